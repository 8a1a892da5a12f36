import type { Control } from './controls.ts';

/** A control in words: `Shift + Arrow Left`, `pad left-shoulder`, `dial 20, right`. */
export function wordsOf(control: Control): string {
  const [kind, ...rest] = control.split(':');
  const what = rest.join(':');
  if (kind === 'key') return what === '+' ? '+' : what.replaceAll('Arrow', 'Arrow ').replace(/\+(?=.)/g, ' + ');
  const [, stem = what, way] = /^(.*?)([+-]?)$/.exec(what) ?? [];
  if (kind === 'pad') {
    const [sideways, upright] = [stem.endsWith('-sideways'), stem.endsWith('-upright')];
    const turn = way && (upright ? { '+': 'down', '-': 'up' } : sideways ? { '+': 'right', '-': 'left' } : { '+': 'forward', '-': 'back' })[way];
    return ['pad', stem.replace(/-(sideways|upright)$/, '').replaceAll('-', ' '), turn].filter(Boolean).join(' ');
  }
  const [channel, said = ''] = stem.split('/');
  const [name, number] = said.split('-');
  const where = channel === '1' ? '' : ` of channel ${channel}`;
  if (way) return `dial ${number}${where}, ${way === '+' ? 'right' : 'left'}`;
  return `${name === 'note' ? 'note' : 'button'} ${number}${where}`;
}
