-- Cards as rows of their own, with the lists made of them at the source.

-- CreateEnum
CREATE TYPE "ManifestState" AS ENUM ('received', 'working', 'ready', 'failed');

-- AlterTable
ALTER TABLE "upload" ADD COLUMN     "card_id" TEXT,
ADD COLUMN     "kept_path" TEXT,
ADD COLUMN     "source_path" TEXT NOT NULL DEFAULT '',
ADD COLUMN     "sums" JSONB NOT NULL DEFAULT '{}';

-- CreateTable
CREATE TABLE "card" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "created_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "card_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "manifest" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "card_id" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "format" TEXT NOT NULL,
    "text" TEXT NOT NULL,
    "sha256" TEXT NOT NULL,
    "root" TEXT,
    "made_at" TIMESTAMPTZ(3),
    "generation" INTEGER NOT NULL DEFAULT 0,
    "ignores" TEXT[],
    "entries" JSONB NOT NULL,
    "files" INTEGER NOT NULL,
    "asks_more" BOOLEAN NOT NULL,
    "state" "ManifestState" NOT NULL DEFAULT 'ready',
    "failure" JSONB,
    "given_by_id" TEXT NOT NULL,
    "given_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "manifest_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE UNIQUE INDEX "card_film_id_name_key" ON "card"("film_id", "name");

-- CreateIndex
CREATE INDEX "manifest_card_id_idx" ON "manifest"("card_id");

-- CreateIndex
CREATE INDEX "manifest_film_id_idx" ON "manifest"("film_id");

-- CreateIndex
CREATE INDEX "upload_card_id_idx" ON "upload"("card_id");

-- AddForeignKey
ALTER TABLE "upload" ADD CONSTRAINT "upload_card_id_fkey" FOREIGN KEY ("card_id") REFERENCES "card"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "card" ADD CONSTRAINT "card_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "manifest" ADD CONSTRAINT "manifest_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "manifest" ADD CONSTRAINT "manifest_card_id_fkey" FOREIGN KEY ("card_id") REFERENCES "card"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- What the schema language cannot say.

-- The same list given twice, by the page and out of the card's own folder, counts once.
CREATE UNIQUE INDEX "manifest_once_a_card" ON "manifest" ("card_id", "sha256") WHERE "removed_at" IS NULL;
ALTER TABLE "manifest" ADD CONSTRAINT "manifest_format" CHECK ("format" IN ('ascmhl', 'list'));
ALTER TABLE "manifest" ADD CONSTRAINT "manifest_failed" CHECK (("state" = 'failed') = ("failure" IS NOT NULL));
-- A file that arrived is a clip, or is kept beside the clips.
ALTER TABLE "upload" ADD CONSTRAINT "upload_kept" CHECK ("kept_path" IS NULL OR ("card_id" IS NOT NULL AND "clip_id" IS NULL));

-- Cards were a word on each upload: the same words make the first rows.
INSERT INTO "card" ("id", "film_id", "name", "created_at")
  SELECT gen_random_uuid()::text, "film_id", "card", min("started_at") FROM "upload" WHERE "card" <> '' GROUP BY "film_id", "card";
UPDATE "upload" SET "card_id" = "card"."id" FROM "card" WHERE "card"."film_id" = "upload"."film_id" AND "card"."name" = "upload"."card";
UPDATE "upload" SET "source_path" = CASE WHEN "relative_path" = '' THEN "name" ELSE "relative_path" END;
UPDATE "upload" SET "sums" = jsonb_build_object('xxh64', "clip"."xxh64") FROM "clip" WHERE "clip"."id" = "upload"."clip_id" AND "upload"."state" = 'arrived';

-- Events carry rows in wire shape, and browsers that were away ask for old ones: uploads in them get the new shape too.
UPDATE "event" SET "rows" = jsonb_set("rows", '{uploads}', (
  SELECT jsonb_agg(
    one || jsonb_build_object('cardId', "upload"."card_id", 'beside', false, 'xxh64', "upload"."sums"->>'xxh64') ORDER BY place
  ) FROM jsonb_array_elements("rows"->'uploads') WITH ORDINALITY AS ones(one, place) LEFT JOIN "upload" ON "upload"."id" = one->>'id'
)) WHERE jsonb_array_length("rows"->'uploads') > 0;
