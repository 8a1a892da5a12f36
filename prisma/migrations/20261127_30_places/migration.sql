-- Where a clip was shot, as the camera noted it.

-- AlterTable
ALTER TABLE "clip" ADD COLUMN     "latitude" DOUBLE PRECISION,
ADD COLUMN     "longitude" DOUBLE PRECISION;

-- What the schema language cannot say.

ALTER TABLE "clip" ADD CONSTRAINT "clip_place" CHECK (("latitude" IS NULL) = ("longitude" IS NULL) AND "latitude" BETWEEN -90 AND 90 AND "longitude" BETWEEN -180 AND 180);

-- Events carry rows in wire shape, and browsers that were away ask for old ones: clips in them get the new shape too.
UPDATE "event" SET "rows" = jsonb_set("rows", '{clips}', (
  SELECT jsonb_agg(one || '{"place": null}'::jsonb ORDER BY place) FROM jsonb_array_elements("rows"->'clips') WITH ORDINALITY AS ones(one, place)
)) WHERE jsonb_array_length("rows"->'clips') > 0;
