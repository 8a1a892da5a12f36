/**
 * What a small console of dials and buttons is set up for, one control after the other: dials for time first, then what
 * the hand on the buttons needs most often. Of each room only its own actions are asked for.
 */
export const CONSOLE_LAYOUT: readonly string[] = [
  ...['player.step-forward', 'player.coarse-forward', 'player.louder', 'player.play', 'player.forward'],
  ...['footage.right', 'footage.down', 'footage.choose'],
  ...['sweep.in', 'sweep.out', 'sweep.drop', 'sweep.circle', 'sweep.note', 'sweep.select-after', 'sweep.next'],
  ...['picks.offer-after', 'picks.approve', 'picks.hold', 'picks.pass', 'picks.in-later', 'picks.out-later', 'picks.next'],
  ...['music.after', 'music.later', 'music.closer', 'music.play', 'music.tap', 'music.add'],
];
