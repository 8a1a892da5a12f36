import { frameTests } from '../fixtures/player-frames.ts';

frameTests(['fast-50.mp4', 'fast-59.94.mp4', 'phone.mp4', 'portrait.mp4']);
