-- A clip with nothing usable in it is put aside, with a reason.

-- AlterTable
ALTER TABLE "clip" ADD COLUMN     "aside_at" TIMESTAMPTZ(3),
ADD COLUMN     "aside_by_id" TEXT,
ADD COLUMN     "aside_reason" TEXT;

-- What the schema language cannot say.

ALTER TABLE "clip" ADD CONSTRAINT "clip_aside" CHECK (
  num_nonnulls("aside_at", "aside_by_id", "aside_reason") IN (0, 3)
  AND "aside_reason" IN ('soft', 'shaky', 'exposure', 'sound', 'false-start', 'no-action', 'other')
);

-- Events carry rows in wire shape, and browsers that were away ask for old ones: clips in them get the new shape too.
UPDATE "event" SET "rows" = jsonb_set("rows", '{clips}', (
  SELECT jsonb_agg(one || '{"aside": null}'::jsonb ORDER BY place) FROM jsonb_array_elements("rows"->'clips') WITH ORDINALITY AS ones(one, place)
)) WHERE jsonb_array_length("rows"->'clips') > 0;
