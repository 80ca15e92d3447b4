-- Photos of findings, as inspections have them: names of files in the folder
-- beside the database, one a line.

ALTER TABLE findings ADD COLUMN photos TEXT;
