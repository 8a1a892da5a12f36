-- CreateTable
CREATE TABLE "outline_state" (
    "film_id" TEXT NOT NULL,
    "seq" INTEGER NOT NULL,
    "name" TEXT NOT NULL,
    "named_by_id" TEXT NOT NULL,
    "named_at" TIMESTAMPTZ(3) NOT NULL DEFAULT CURRENT_TIMESTAMP,

    CONSTRAINT "outline_state_pkey" PRIMARY KEY ("film_id","seq")
);

-- AddForeignKey
ALTER TABLE "outline_state" ADD CONSTRAINT "outline_state_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;
