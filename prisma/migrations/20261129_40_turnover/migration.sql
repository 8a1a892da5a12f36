-- Turnover: handles, permits and releases, remarks that are let go, and what was found in a cut that came back.

-- AlterTable
ALTER TABLE "film" ADD COLUMN     "handle_frames" INTEGER NOT NULL DEFAULT 24;

-- AlterTable
ALTER TABLE "offer" ADD COLUMN     "cut_in_at" TIMESTAMPTZ(3);

-- CreateTable
CREATE TABLE "clearance" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "kind" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "state" TEXT NOT NULL DEFAULT 'missing',
    "words" TEXT NOT NULL DEFAULT '',
    "made_by_id" TEXT NOT NULL,
    "made_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "clearance_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "let_go" (
    "film_id" TEXT NOT NULL,
    "key" TEXT NOT NULL,
    "why" TEXT NOT NULL,
    "by_id" TEXT NOT NULL,
    "at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "let_go_pkey" PRIMARY KEY ("film_id","key")
);

-- CreateIndex
CREATE INDEX "clearance_film_id_idx" ON "clearance"("film_id");

-- AddForeignKey
ALTER TABLE "clearance" ADD CONSTRAINT "clearance_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "let_go" ADD CONSTRAINT "let_go_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- What the schema language cannot say.

ALTER TABLE "film" ADD CONSTRAINT "film_handles" CHECK ("handle_frames" >= 0);
ALTER TABLE "clearance" ADD CONSTRAINT "clearance_kind" CHECK ("kind" IN ('location', 'person'));
ALTER TABLE "clearance" ADD CONSTRAINT "clearance_state" CHECK ("state" IN ('kept', 'missing', 'not-needed'));
-- One line a place and a person, however it is written.
CREATE UNIQUE INDEX "clearance_name" ON "clearance" ("film_id", "kind", lower("name")) WHERE "removed_at" IS NULL;

-- Events carry rows in wire shape, and browsers that were away ask for old ones: films and offers in them get the new shape too.
UPDATE "event" SET "rows" = jsonb_set("rows", '{film}', (
  SELECT jsonb_agg(one || '{"handleFrames": 24}'::jsonb ORDER BY place) FROM jsonb_array_elements("rows"->'film') WITH ORDINALITY AS ones(one, place)
)) WHERE jsonb_array_length("rows"->'film') > 0;
UPDATE "event" SET "rows" = jsonb_set("rows", '{offers}', (
  SELECT jsonb_agg(one || '{"cutInAt": null}'::jsonb ORDER BY place) FROM jsonb_array_elements("rows"->'offers') WITH ORDINALITY AS ones(one, place)
)) WHERE jsonb_array_length("rows"->'offers') > 0;
