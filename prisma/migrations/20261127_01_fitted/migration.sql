-- Lengths that a fit to music settled, beside what lines wish for.

-- AlterTable
ALTER TABLE "item" ADD COLUMN     "fitted_frames" INTEGER;

-- What the schema language cannot say.

ALTER TABLE "item" ADD CONSTRAINT "item_fitted" CHECK ("fitted_frames" > 0);

-- Events carry rows in wire shape, and browsers that were away ask for old ones: lines in them get the new shape too.
UPDATE "event" SET "rows" = jsonb_set("rows", '{items}', (
  SELECT jsonb_agg(line || '{"fitted": null}' ORDER BY place) FROM jsonb_array_elements("rows"->'items') WITH ORDINALITY AS lines(line, place)
)) WHERE jsonb_array_length("rows"->'items') > 0;
