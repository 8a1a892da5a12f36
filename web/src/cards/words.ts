import type { Card, CardCount, FileState, Manifest, Proof } from '#contract/cards';

/** Stands beside every word on what was received. */
export const CAUTION = 'Whether a card may be wiped is for your crew’s own rule to say, not for this page. Keep two copies on two devices whatever it says.';

const files = (n: number): string => (n === 1 ? '1 file' : `${n} files`);

export const GROUPS: readonly { state: FileState; title: string; explains: string }[] = [
  { state: 'missing', title: 'Missing', explains: 'on a list, and not here' },
  { state: 'changed', title: 'Changed', explains: 'here, and not as it was at the source' },
  { state: 'refused', title: 'Refused', explains: 'sent, not taken in, and on no list' },
  { state: 'unproved', title: 'Not proved', explains: 'here, and no list has a good checksum of it' },
  { state: 'extra', title: 'Extra', explains: 'here, and on no list' },
  { state: 'unchecked', title: 'Being checked', explains: 'here, its checksum is being made' },
  { state: 'arriving', title: 'On its way', explains: 'not whole yet' },
  { state: 'leftOut', title: 'Left out', explains: 'an operating system’s own files, which are not sent' },
  { state: 'verified', title: 'Verified', explains: 'here, and as it was at the source' },
];

/** How a card stands, in a sentence; `all` only when everything is proved. */
export function proofWords(proof: Proof, lists: number): { all: boolean; words: string } {
  const { counts, listed } = proof;
  if (proof.allReceived) {
    const left = counts.leftOut ? ` ${files(counts.leftOut)} of the operating system were left out.` : '';
    return { all: true, words: `All received: each of the ${files(listed)} on the ${lists === 1 ? 'list' : `${lists} lists`} made at the source is here, and every checksum is the same.${left}` };
  }
  if (lists === 0) return { all: false, words: `Nothing proves that all of this card is here: no list made at the source was given. ${files(proof.files.length)} of it ${proof.files.length === 1 ? 'is' : 'are'} known.` };
  const parts = [
    ...(proof.unread ? [`${proof.unread === 1 ? 'a list' : `${proof.unread} lists`} could not be read`] : []),
    ...GROUPS.filter(({ state }) => state !== 'verified' && state !== 'leftOut' && counts[state] > 0).map(({ state, title }) => `${counts[state]} ${title.toLowerCase()}`),
  ];
  return { all: false, words: `Not all received: ${parts.join(', ') || 'nothing has arrived'}; ${counts.verified} of ${listed} verified.` };
}

const FORMATS: Record<Manifest['format'], string> = { ascmhl: 'ASC MHL', list: 'list of checksums' };

/** What a list is, and how its checking stands. */
export function manifestWords({ format, files: n, state, failure }: Manifest): string {
  if (state === 'failed') return `${FORMATS[format]}: ${failure?.reason ?? 'it could not be worked on.'}`;
  return `${FORMATS[format]}, ${files(n)}${state === 'ready' ? '' : ', checksums being made'}`;
}

/** How many files of a card are here, for the list of cards. */
export function cardWords(card: Card, { clips, beside, arriving }: Omit<CardCount, 'cardId'>): string {
  return [
    `${clips} ${clips === 1 ? 'clip' : 'clips'}`,
    ...(beside ? [`${beside} kept beside ${clips === 1 ? 'it' : 'them'}`] : []),
    ...(arriving ? [`${arriving} on ${arriving === 1 ? 'its' : 'their'} way`] : []),
    card.manifests.length === 0 ? 'no list' : card.manifests.length === 1 ? '1 list' : `${card.manifests.length} lists`,
  ].join(', ');
}
