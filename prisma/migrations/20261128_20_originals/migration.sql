-- Camera originals: lists of them made where they lie, and what people settled of clips and originals.

-- CreateTable
CREATE TABLE "original_list" (
    "id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "card" TEXT NOT NULL,
    "name" TEXT NOT NULL,
    "sha256" TEXT NOT NULL,
    "entries" JSONB NOT NULL,
    "given_by_id" TEXT NOT NULL,
    "given_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,
    "removed_at" TIMESTAMPTZ(3),

    CONSTRAINT "original_list_pkey" PRIMARY KEY ("id")
);

-- CreateTable
CREATE TABLE "original_choice" (
    "clip_id" TEXT NOT NULL,
    "film_id" TEXT NOT NULL,
    "joined" TEXT,
    "own" BOOLEAN NOT NULL DEFAULT false,
    "apart" TEXT[] DEFAULT ARRAY[]::TEXT[],

    CONSTRAINT "original_choice_pkey" PRIMARY KEY ("clip_id")
);

-- CreateIndex
CREATE INDEX "original_list_film_id_idx" ON "original_list"("film_id");

-- CreateIndex
CREATE INDEX "original_choice_film_id_idx" ON "original_choice"("film_id");

-- AddForeignKey
ALTER TABLE "original_list" ADD CONSTRAINT "original_list_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "original_choice" ADD CONSTRAINT "original_choice_clip_id_fkey" FOREIGN KEY ("clip_id") REFERENCES "clip"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- AddForeignKey
ALTER TABLE "original_choice" ADD CONSTRAINT "original_choice_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- What the schema language cannot say.

-- The same list given twice counts once.
CREATE UNIQUE INDEX "original_list_once" ON "original_list" ("film_id", "card", "sha256") WHERE "removed_at" IS NULL;
-- One original is joined to one clip.
CREATE UNIQUE INDEX "original_choice_once" ON "original_choice" ("film_id", "joined") WHERE "joined" IS NOT NULL;
-- A clip's file is the original, or was made from another one.
ALTER TABLE "original_choice" ADD CONSTRAINT "original_choice_one" CHECK (NOT ("own" AND "joined" IS NOT NULL));
