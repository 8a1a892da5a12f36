-- AlterTable
ALTER TABLE "event" ADD COLUMN "change_id" TEXT;

-- CreateIndex
CREATE UNIQUE INDEX "event_film_id_change_id_key" ON "event"("film_id", "change_id");
