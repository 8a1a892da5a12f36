// The moving scenes of the invented film, painted by ffmpeg's own expressions: a still backdrop, water drifting over
// it two ways, and things that move. Painted small and enlarged, which is quick and looks like a soft lens.

/** Colours and opacity as expressions of ffmpeg's geq filter: X, Y, W, H in pixels, results 0 to 255. */
interface Paint {
  r: string;
  g: string;
  b: string;
  a?: string;
}

/** Something that moves. Sizes are parts of the picture; `x` and `y` are expressions of t (seconds), W, H, w and h. */
interface Thing {
  width: number;
  height: number;
  paint: Paint;
  x: string;
  y: string;
}

interface SceneDrawing {
  backdrop: Paint;
  /** Where water shimmers, in parts of the height from the top, and how strongly. */
  water: { top: number; strength: number };
  things: Thing[];
}

type Colour = readonly [number, number, number];

const channels = (of: (channel: 0 | 1 | 2) => string): Paint => ({ r: of(0), g: of(1), b: of(2) });
const flat = (colour: Colour, a: string): Paint => ({ ...channels((c) => String(colour[c])), a });
const down = (from: Colour, to: Colour, along: string) => (c: 0 | 1 | 2) => `(${from[c]}+(${to[c] - from[c]})*(${along}))`;
const choose = (condition: string, yes: (c: 0 | 1 | 2) => string, no: (c: 0 | 1 | 2) => string) => (c: 0 | 1 | 2) => `if(${condition},${yes(c)},${no(c)})`;
const plain = (colour: Colour) => (c: 0 | 1 | 2) => String(colour[c]);

/** Sky above a horizon (a part of the height), land or water below it. */
const horizon = (at: number, sky: readonly [Colour, Colour], ground: readonly [Colour, Colour]) =>
  choose(`lt(Y,${at}*H)`, down(sky[0], sky[1], `Y/(${at}*H)`), down(ground[0], ground[1], `(Y-${at}*H)/(${1 - at}*H)`));
const ridge = (at: number, height: number) => `between(Y,H*(${at}-${height}*abs(sin(X/W*4.1+0.6)*sin(X/W*9+2))),H*${at})`;

const DARK: Colour = [38, 36, 34];

export const SCENES = {
  'low-water': {
    backdrop: channels(choose(ridge(0.42, 0.09), plain([92, 96, 104]), horizon(0.42, [[196, 176, 168], [236, 218, 196]], [[150, 138, 122], [104, 94, 82]]))),
    water: { top: 0.44, strength: 70 },
    things: [
      { width: 0.02, height: 0.34, paint: flat(DARK, '255'), x: 'W*0.22', y: 'H*0.4' },
      { width: 0.026, height: 0.42, paint: flat(DARK, '255'), x: 'W*0.71', y: 'H*0.38' },
      // A gull: two strokes that beat as it crosses.
      { width: 0.07, height: 0.05, paint: flat([240, 238, 232], '255*lt(abs(Y-H*0.8+H*0.7*sin(PI*abs(2*X/W-1))),1.6)'), x: 'mod(W*0.05*t+W*0.1\\,W)', y: 'H*(0.2+0.05*sin(2*t))' },
    ],
  },
  causeway: {
    backdrop: channels(
      choose(
        'gt(Y,H*0.4)*lt(abs(X-W*0.5),W*(0.02+0.5*(Y/H-0.4)))',
        choose('lt(abs(X-W*0.5),W*0.02*(Y/H-0.35))', plain([210, 204, 190]), down([120, 116, 110], [86, 82, 78], '(Y/H-0.4)/0.6')),
        horizon(0.4, [[148, 176, 198], [214, 222, 222]], [[108, 132, 138], [66, 88, 92]]),
      ),
    ),
    water: { top: 0.42, strength: 60 },
    things: [
      // A van comes nearer; the tide takes the road from both sides.
      { width: 0.09, height: 0.12, paint: flat([186, 62, 44], '255'), x: 'W*0.5-w*0.4+W*0.05*sin(t*0.7)', y: 'H*(0.36+0.03*mod(t\\,12))' },
      { width: 0.5, height: 0.5, paint: flat([84, 108, 116], '190'), x: '-W*(0.42-0.02*t)', y: 'H*0.5' },
      { width: 0.5, height: 0.5, paint: flat([84, 108, 116], '190'), x: 'W*(0.92-0.02*t)', y: 'H*0.5' },
    ],
  },
  'oyster-beds': {
    backdrop: channels(
      choose(
        'gt(Y,H*0.38)*lt(mod(sqrt(Y/H-0.36)*26,2),0.8)*gt(mod(X+Y*0.4,W*0.24),W*0.03)',
        down([62, 58, 52], [34, 31, 28], 'Y/H'),
        horizon(0.34, [[170, 178, 180], [204, 206, 200]], [[132, 126, 112], [92, 84, 70]]),
      ),
    ),
    water: { top: 0.36, strength: 50 },
    things: [
      { width: 0.05, height: 0.3, paint: flat([46, 62, 82], '255*lt(abs(X-W*0.5),W*(0.2+0.3*Y/H))'), x: 'W*0.58+W*0.01*sin(3*t)', y: 'H*0.36' },
      // The rake goes back and forth.
      { width: 0.22, height: 0.02, paint: flat([120, 84, 48], '255'), x: 'W*(0.4+0.06*sin(3*t))', y: 'H*(0.56+0.02*cos(3*t))' },
    ],
  },
  'market-night': {
    backdrop: channels(
      choose(
        'gt(Y,H*0.62)*lt(mod(X,W*0.25),W*0.2)*lt(Y,H*0.8)',
        down([120, 66, 30], [60, 34, 20], '(Y/H-0.62)/0.18'),
        choose('lt(hypot(mod(X,W*0.0625)-W*0.03125,Y-H*(0.2+0.12*abs(sin(X/W*9.42)))),W*0.012)', plain([255, 226, 150]), horizon(0.62, [[10, 12, 26], [30, 26, 40]], [[28, 22, 22], [14, 12, 12]])),
      ),
    ),
    water: { top: 0.8, strength: 40 },
    things: [
      { width: 0.06, height: 0.34, paint: flat([12, 11, 12], '255*lt(hypot((X-W/2)/W*1.2,max(0,H*0.14-Y)/H*3),0.5)'), x: 'mod(W*0.07*t\\,W*1.1)-w', y: 'H*0.56' },
      { width: 0.07, height: 0.38, paint: flat([20, 16, 16], '255*lt(hypot((X-W/2)/W*1.2,max(0,H*0.14-Y)/H*3),0.5)'), x: 'W-mod(W*0.05*t+W*0.3\\,W*1.1)', y: 'H*0.58' },
      // A lantern swings.
      { width: 0.09, height: 0.16, paint: flat([255, 190, 90], '255*max(0,1-hypot((X-W/2)/W*2,(Y-H/2)/H*2))'), x: 'W*(0.46+0.04*sin(2.2*t))', y: 'H*0.34' },
    ],
  },
  ferry: {
    backdrop: channels(choose(ridge(0.46, 0.16), plain([58, 62, 84]), horizon(0.46, [[94, 84, 120], [238, 150, 96]], [[150, 104, 92], [40, 44, 66]]))),
    water: { top: 0.46, strength: 80 },
    things: [
      { width: 0.24, height: 0.05, paint: flat([236, 230, 220], '255*gt(X,W*0.25)*lt(X,W*0.8)'), x: 'mod(W*0.03*t+W*0.2\\,W)', y: 'H*0.41+2*sin(1.7*t)' },
      { width: 0.24, height: 0.06, paint: flat([30, 48, 76], '255*gt(X,Y*1.2)*lt(X,W-Y*1.6)'), x: 'mod(W*0.03*t+W*0.2\\,W)', y: 'H*0.455+2*sin(1.7*t)' },
    ],
  },
} as const satisfies Record<string, SceneDrawing>;

export type Scene = keyof typeof SCENES;

const geq = ({ r, g, b, a = '255' }: Paint): string => `geq=r='${r}':g='${g}':b='${b}':a='${a}'`;
const even = (n: number): number => Math.max(2, 2 * Math.round(n / 2));

/** A picture painted once and shown for ever. */
const still = (width: number, height: number, rate: string, filters: string): string =>
  `color=black:s=${width}x${height}:r=${rate},format=rgba,trim=end_frame=1,${filters},loop=-1:1:0`;

/**
 * The filter graph that paints a scene without end.
 * @param rate as ffmpeg writes it, "30000/1001".
 * @param seed varies tint, phase and drift, so that takes of one scene differ.
 * @returns chains whose last ends in the pad [scene], `width` × `height`.
 */
export function sceneGraph(scene: Scene, width: number, height: number, rate: string, seed: number): string {
  const { backdrop, water, things }: SceneDrawing = SCENES[scene];
  const depth = even(height * (1 - water.top));
  const phase = (seed * 1.7) % 6;
  const drift = (0.0006 + 0.0002 * (seed % 4)).toFixed(5);
  const ripples = (turn: number) =>
    `geq=r=235:g=240:b=240:a='${water.strength}*pow(random(${turn}),3)*(0.4+0.6*Y/H)',scale=${width}:${depth}:flags=bicubic`;
  const wave = (turn: number, dx: string, name: string) =>
    `color=black:s=${even(width / 10)}x${even(depth / 3)}:r=${rate},format=rgba,trim=end_frame=1,${ripples(turn)},loop=-1:1:0,scroll=h=${dx}[${name}]`;
  const chains = [
    `${still(width, height, rate, geq(backdrop))},format=rgb24,hue=h=${((seed * 37) % 25) - 12}:s=${(0.85 + 0.05 * (seed % 5)).toFixed(2)},format=yuv420p[layer0]`,
    wave(0, drift, 'wave0'),
    wave(1, `-${drift}`, 'wave1'),
    ...things.map(({ width: w, height: h, paint }, i) => `${still(even(w * width), even(h * height), rate, geq(paint))}[thing${i}]`),
    `[layer0][wave0]overlay=0:${height - depth}[surface]`,
    `[surface][wave1]overlay=0:${height - depth}[over0]`,
    ...things.map(({ x, y }, i) => {
      const timed = (expression: string) => expression.replaceAll(/\bt\b/g, `(t+${phase.toFixed(2)})`);
      return `[over${i}][thing${i}]overlay=x='${timed(x)}':y='${timed(y)}'[over${i + 1}]`;
    }),
  ];
  return `${chains.join(';')};[over${things.length}]null[scene]`;
}
