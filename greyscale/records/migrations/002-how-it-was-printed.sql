-- Whether anybody said how a reading's chart was sent to the printer: through the correction of
-- `through`, or, where that is empty, without one. Nobody is held to have said what was not asked.
ALTER TABLE readings ADD COLUMN stated INTEGER NOT NULL DEFAULT 0 CHECK (stated IN (0, 1));
UPDATE readings SET stated = 1 WHERE through IS NOT NULL;
