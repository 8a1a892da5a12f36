-- The string-out of a film: which version was made last, and how loud production sound and music are in it.
CREATE TABLE "string_out" (
    "film_id" TEXT NOT NULL,
    "version" TEXT,
    "production_db" INTEGER NOT NULL DEFAULT 0,
    "music_db" INTEGER NOT NULL DEFAULT -9,

    CONSTRAINT "string_out_pkey" PRIMARY KEY ("film_id")
);

ALTER TABLE "string_out" ADD CONSTRAINT "string_out_film_id_fkey" FOREIGN KEY ("film_id") REFERENCES "film"("id") ON DELETE CASCADE ON UPDATE CASCADE;

-- From silence to twice as loud.
ALTER TABLE "string_out" ADD CONSTRAINT "string_out_levels" CHECK ("production_db" BETWEEN -60 AND 6 AND "music_db" BETWEEN -60 AND 6);
