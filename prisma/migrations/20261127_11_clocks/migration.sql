-- What a person set is told from what was worked out, and the clocks of cameras can be set right.

-- AlterTable
ALTER TABLE "clip" ADD COLUMN     "by_hand" TEXT[] DEFAULT ARRAY[]::TEXT[],
ADD COLUMN     "noted_at" TIMESTAMPTZ(3),
ADD COLUMN     "noted_zone" INTEGER;

-- CreateTable
CREATE TABLE "clock" (
    "film_id" TEXT NOT NULL,
    "camera" TEXT NOT NULL,
    "moments" JSONB NOT NULL,
    "zone" INTEGER,
    "set_by_id" TEXT NOT NULL,
    "set_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "clock_pkey" PRIMARY KEY ("film_id","camera")
);

-- AddForeignKey
ALTER TABLE "clock" ADD CONSTRAINT "clock_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- What the schema language cannot say.

-- What was worked out until here follows from what the camera noted; everything else was set by a person and stays so.
UPDATE "clip" SET "noted_at" = "captured_at", "noted_zone" = "captured_zone", "by_hand" =
  CASE WHEN "camera" <> '' AND "camera" IS DISTINCT FROM left("model", 40) THEN ARRAY['camera'] ELSE ARRAY[]::TEXT[] END
  || CASE WHEN "card" <> '' THEN ARRAY['card'] ELSE ARRAY[]::TEXT[] END
  || CASE WHEN "shoot_day" IS NOT NULL AND "shoot_day" IS DISTINCT FROM (("captured_at" AT TIME ZONE 'UTC') + make_interval(mins => coalesce("captured_zone", 0)))::date THEN ARRAY['shootDay'] ELSE ARRAY[]::TEXT[] END
  || CASE WHEN "location" <> '' THEN ARRAY['location'] ELSE ARRAY[]::TEXT[] END;

-- Events carry rows in wire shape, and browsers that were away ask for old ones: clips and uploads in them get the new shape too.
UPDATE "event" SET "rows" = jsonb_set("rows", '{clips}', (
  SELECT jsonb_agg(one || jsonb_build_object('notedAt', one->'capturedAt', 'notedZone', one->'capturedZone', 'byHand', coalesce(to_jsonb("clip"."by_hand"), '[]')) ORDER BY place)
  FROM jsonb_array_elements("rows"->'clips') WITH ORDINALITY AS ones(one, place) LEFT JOIN "clip" ON "clip"."id" = one->>'id'
)) WHERE jsonb_array_length("rows"->'clips') > 0;
UPDATE "event" SET "rows" = jsonb_set("rows", '{uploads}', (
  SELECT jsonb_agg(one || jsonb_build_object('sourcePath', coalesce("upload"."source_path", '')) ORDER BY place)
  FROM jsonb_array_elements("rows"->'uploads') WITH ORDINALITY AS ones(one, place) LEFT JOIN "upload" ON "upload"."id" = one->>'id'
)) WHERE jsonb_array_length("rows"->'uploads') > 0;
