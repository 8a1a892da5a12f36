// The ledger room, or the notes of a clip under a blank picture, on the real server: `?film=<id>[&clip=<id>]`.
import { mount } from 'svelte';
import '../../../../web/src/ui/tokens.css';
import '../../../../web/src/ui/base.css';
import { FilmState } from '../../../../web/src/live/film-state.svelte.ts';
import LedgerRoom from '../../../../web/src/ledger/LedgerRoom.svelte';
import Announcements from '../../../../web/src/ui/Announcements.svelte';
import ClipNotes from './ClipNotes.svelte';

const target = document.getElementById('page')!;
const query = new URLSearchParams(location.search);
const film = await FilmState.open(query.get('film')!);
const clipId = query.get('clip');
if (clipId) mount(ClipNotes, { target, props: { film, clipId } });
else mount(LedgerRoom, { target, props: { film, subject: null, frame: null } });
mount(Announcements, { target });
