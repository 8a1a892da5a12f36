-- The footage as a table of days and cameras that is read a window at a time, and found by words.

-- AlterTable
ALTER TABLE "clip" ADD COLUMN     "faults" JSONB;

-- What the schema language cannot say.

-- A text by which numbers sort as people read them: "clip 9" before "clip 10". Numbers of up to 12 digits.
CREATE FUNCTION natural_key(given text) RETURNS text LANGUAGE sql IMMUTABLE PARALLEL SAFE
  RETURN regexp_replace(regexp_replace(lower(given), '(\d+)', '00000000000\1', 'g'), '\d*(\d{12})(?!\d)', '\1', 'g');

-- A cell of the table: its day and camera, those without one last. What stands before the first key of the cell.
CREATE FUNCTION footage_cell(shoot_day date, camera text) RETURNS text LANGUAGE sql IMMUTABLE PARALLEL SAFE
  RETURN coalesce(lpad((shoot_day - DATE '0001-01-01')::text, 7, '0'), '9999999') || CASE camera WHEN '' THEN '1' ELSE '0' END || natural_key(camera) || E'\x01';

-- Where a clip stands in the table: by day, camera, and moment of capture; those that do not know it follow, by their
-- start timecode. To be compared by bytes.
CREATE FUNCTION footage_key(shoot_day date, camera text, captured_at timestamptz, start_frame int, rate_num int, rate_den int, name text, id text) RETURNS text LANGUAGE sql IMMUTABLE PARALLEL SAFE
  RETURN footage_cell(shoot_day, camera)
    || CASE
      WHEN captured_at IS NULL THEN '1' || lpad(coalesce(start_frame::bigint * rate_den / rate_num, 0)::text, 15, '0')
      ELSE '0' || lpad(greatest(0, floor(extract(epoch FROM captured_at - TIMESTAMPTZ '1900-01-01 00:00:00+00') * 1000))::bigint::text, 15, '0')
    END
    || natural_key(name) || E'\x01' || id;

CREATE INDEX "clip_in_table" ON "clip" ("film_id", footage_key("shoot_day", "camera", "captured_at", "start_frame", "rate_num", "rate_den", "name", "id") COLLATE "C") WHERE "removed_at" IS NULL;

-- Words of names, labels and notes, however names are put together: "A_0012.mov" is a, 0012 and mov.
CREATE FUNCTION words_of(given text) RETURNS tsvector LANGUAGE sql IMMUTABLE PARALLEL SAFE
  RETURN to_tsvector('simple'::regconfig, regexp_replace(given, '[^[:alnum:]]+', ' ', 'g'));

CREATE INDEX "clip_words" ON "clip" USING gin (words_of("name" || ' ' || "location" || ' ' || "camera" || ' ' || "card" || ' ' || coalesce("reel", ''))) WHERE "removed_at" IS NULL;
CREATE INDEX "select_words" ON "select" USING gin (words_of("label")) WHERE "removed_at" IS NULL;
CREATE INDEX "note_words" ON "note" USING gin (words_of("text")) WHERE "removed_at" IS NULL;
