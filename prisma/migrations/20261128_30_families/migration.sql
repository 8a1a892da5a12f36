-- Families: clips that are takes of the same moment, and where they lie on one another.

-- CreateEnum
CREATE TYPE "PlacedBy" AS ENUM ('timecode', 'sound', 'hand');

-- CreateTable
CREATE TABLE "family" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "made_by_id" TEXT NOT NULL,
    "made_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "family_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "family_member" (
    "clip_id" TEXT NOT NULL,
    "family_id" TEXT NOT NULL,
    "offset_num" BIGINT,
    "offset_den" BIGINT,
    "by" "PlacedBy",
    "placed_by_id" TEXT NOT NULL,

    CONSTRAINT "family_member_pkey" PRIMARY KEY ("clip_id")
);

-- CreateIndex
CREATE INDEX "family_film_id_idx" ON "family"("film_id");

-- CreateIndex
CREATE INDEX "family_member_family_id_idx" ON "family_member"("family_id");

-- AddForeignKey
ALTER TABLE "family" ADD CONSTRAINT "family_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "family_member" ADD CONSTRAINT "family_member_clip_id_fkey" FOREIGN KEY ("clip_id") REFERENCES "clip"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "family_member" ADD CONSTRAINT "family_member_family_id_fkey" FOREIGN KEY ("family_id") REFERENCES "family"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- A place and by what it was found are known together, and a fraction has its two halves.
ALTER TABLE "family_member" ADD CONSTRAINT "family_member_place" CHECK (
    ("offset_num" IS NULL) = ("by" IS NULL) AND ("offset_den" IS NULL) = ("by" IS NULL) AND ("offset_den" IS NULL OR "offset_den" > 0)
);
