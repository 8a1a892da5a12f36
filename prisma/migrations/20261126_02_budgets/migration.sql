-- Lengths of lines as wishes, and what the shape check needs to know of a film.

-- AlterTable
ALTER TABLE "film" ADD COLUMN     "closing_share" INTEGER NOT NULL DEFAULT 800,
ADD COLUMN     "dismissed" TEXT[] DEFAULT ARRAY[]::TEXT[],
ADD COLUMN     "shortest_shot" INTEGER NOT NULL DEFAULT 12;

-- AlterTable
ALTER TABLE "item" ADD COLUMN     "max_frames" INTEGER,
ADD COLUMN     "min_frames" INTEGER,
ADD COLUMN     "share" INTEGER;

-- What the schema language cannot say.

-- One kind of wish a line. Lengths that were there stay what they were: fixed.
ALTER TABLE "item" ADD CONSTRAINT "item_wish" CHECK (
  num_nonnulls("target_frames", "min_frames", "share") <= 1
  AND ("min_frames" IS NULL) = ("max_frames" IS NULL)
  AND ("min_frames" IS NULL OR ("min_frames" > 0 AND "max_frames" > "min_frames"))
  AND ("share" IS NULL OR "share" BETWEEN 1 AND 10000)
);
ALTER TABLE "film" ADD CONSTRAINT "film_shape" CHECK ("closing_share" BETWEEN 0 AND 10000 AND "shortest_shot" > 0);

-- Events carry rows in wire shape, and browsers that were away ask for old ones: lines in them get the new shape too.
UPDATE "event" SET "rows" = jsonb_set("rows", '{items}', (
  SELECT jsonb_agg(
    (line - 'targetFrames') || jsonb_build_object('wish', CASE
      WHEN line->'targetFrames' = 'null'::jsonb THEN '{"kind": "open"}'::jsonb
      ELSE jsonb_build_object('kind', 'fixed', 'frames', line->'targetFrames')
    END) ORDER BY place
  ) FROM jsonb_array_elements("rows"->'items') WITH ORDINALITY AS lines(line, place)
)) WHERE jsonb_array_length("rows"->'items') > 0;
UPDATE "event" SET "rows" = jsonb_set("rows", '{film}', (
  SELECT jsonb_agg(film || '{"closingShare": 800, "shortestShot": 12, "dismissed": []}'::jsonb) FROM jsonb_array_elements("rows"->'film') AS films(film)
)) WHERE jsonb_array_length("rows"->'film') > 0;
