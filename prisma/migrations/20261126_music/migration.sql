-- CreateEnum
CREATE TYPE "TrackState" AS ENUM ('received', 'working', 'ready', 'failed');

-- CreateEnum
CREATE TYPE "MarkKind" AS ENUM ('beat', 'hit', 'build', 'turn', 'named');

-- CreateTable
CREATE TABLE "track" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "title" TEXT NOT NULL,
    "maker" TEXT NOT NULL DEFAULT '',
    "licence" TEXT NOT NULL DEFAULT '',
    "rights" TEXT NOT NULL DEFAULT 'missing',
    "original_path" TEXT NOT NULL,
    "bytes" BIGINT NOT NULL,
    "xxh64" TEXT NOT NULL,
    "state" "TrackState" NOT NULL DEFAULT 'received',
    "failure" JSONB,
    "version" TEXT,
    "length_ms" INTEGER,
    "analysis" JSONB,
    "integrated_lufs" DOUBLE PRECISION,
    "true_peak_dbtp" DOUBLE PRECISION,
    "locked" BOOLEAN NOT NULL DEFAULT false,
    "sent_by_id" TEXT NOT NULL,
    "received_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "track_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "mark" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "track_id" TEXT NOT NULL,
    "kind" "MarkKind" NOT NULL,
    "at_ms" INTEGER NOT NULL,
    "until_ms" INTEGER,
    "name" TEXT NOT NULL DEFAULT '',
    "strength" DOUBLE PRECISION,
    "confidence" DOUBLE PRECISION,
    "in_bar" INTEGER,
    "by_id" TEXT,
    "removed_at" TIMESTAMPTZ(3),
    "removed_by_id" TEXT,

    CONSTRAINT "mark_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "tie" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "item_id" TEXT NOT NULL,
    "mark_id" TEXT NOT NULL,
    "made_by_id" TEXT NOT NULL,
    "made_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "tie_pkey" PRIMARY KEY ("id")
);

-- CreateIndex
CREATE INDEX "track_film_id_idx" ON "track"("film_id");

-- CreateIndex
CREATE INDEX "mark_film_id_idx" ON "mark"("film_id");

-- CreateIndex
CREATE INDEX "mark_track_id_at_ms_idx" ON "mark"("track_id", "at_ms");

-- CreateIndex
CREATE INDEX "tie_film_id_idx" ON "tie"("film_id");

-- CreateIndex
CREATE INDEX "tie_mark_id_idx" ON "tie"("mark_id");

-- AddForeignKey
ALTER TABLE "track" ADD CONSTRAINT "track_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "mark" ADD CONSTRAINT "mark_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "mark" ADD CONSTRAINT "mark_track_id_fkey" FOREIGN KEY ("track_id") REFERENCES "track"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tie" ADD CONSTRAINT "tie_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tie" ADD CONSTRAINT "tie_item_id_fkey" FOREIGN KEY ("item_id") REFERENCES "item"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "tie" ADD CONSTRAINT "tie_mark_id_fkey" FOREIGN KEY ("mark_id") REFERENCES "mark"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- What the schema language cannot say.

-- The choice of music is one: whatever code does, a second locked track of a film cannot be written.
CREATE UNIQUE INDEX "track_one_locked_a_film" ON "track" ("film_id") WHERE "locked" AND "removed_at" IS NULL;
-- A file sent twice is one track; bytes are part of the identity because a 64-bit hash alone may collide.
CREATE UNIQUE INDEX "track_once_a_film" ON "track" ("film_id", "xxh64", "bytes") WHERE "removed_at" IS NULL;
-- A line begins once.
CREATE UNIQUE INDEX "tie_one_a_line" ON "tie" ("item_id") WHERE "removed_at" IS NULL;

ALTER TABLE "track" ADD CONSTRAINT "track_rights" CHECK ("rights" IN ('kept', 'missing', 'not-needed'));
ALTER TABLE "track" ADD CONSTRAINT "track_made" CHECK ("state" <> 'ready' OR ("version" IS NOT NULL AND "length_ms" > 0));
ALTER TABLE "mark" ADD CONSTRAINT "mark_span" CHECK ("at_ms" >= 0 AND ("until_ms" IS NULL OR "until_ms" > "at_ms"));
ALTER TABLE "mark" ADD CONSTRAINT "mark_sureness" CHECK ("confidence" BETWEEN 0 AND 1);
