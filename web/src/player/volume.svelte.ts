// How loud this person listens, kept in this browser: one volume for all players of the page.

let person = '';
let volume = $state(1);

const keyOf = (userId: string) => `rushlight.volume.${userId}`;

/** Whose volume it is from now on. */
export function listenAs(userId: string): void {
  person = userId;
  const kept = Number(localStorage.getItem(keyOf(userId)) ?? 1);
  volume = kept >= 0 && kept <= 1 ? kept : 1;
}

/** 0 to 1. */
export function volumeNow(): number {
  return volume;
}

/** Sets it, held between 0 and 1, and keeps it. */
export function setVolume(asked: number): void {
  volume = Math.round(Math.max(0, Math.min(1, asked)) * 100) / 100;
  if (person) localStorage.setItem(keyOf(person), String(volume));
}
