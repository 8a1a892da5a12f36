import { frameTests } from '../fixtures/player-frames.ts';

frameTests(['film-23.976.mov', 'pal-25.mov', 'drop-29.97.mov', 'ten-bit.mov']);
