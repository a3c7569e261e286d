-- The body is the only truth: what is searched by is derived from it, so that nothing can be altered
-- outside the hash. AUTOINCREMENT keeps the highest number there ever was, which shows entries cut
-- off the end.
CREATE TABLE entries (
    entry    INTEGER PRIMARY KEY AUTOINCREMENT,
    body     TEXT NOT NULL,
    previous TEXT NOT NULL,
    hash     TEXT NOT NULL,
    host_ms  INTEGER GENERATED ALWAYS AS (json_extract(body, '$.host_ms')) VIRTUAL,
    kind     TEXT GENERATED ALWAYS AS (json_extract(body, '$.kind')) VIRTUAL,
    priority TEXT GENERATED ALWAYS AS (json_extract(body, '$.priority')) VIRTUAL,
    mmsi     INTEGER GENERATED ALWAYS AS (json_extract(body, '$.mmsi')) VIRTUAL,
    alert    INTEGER GENERATED ALWAYS AS (json_extract(body, '$.alert')) VIRTUAL,
    session  INTEGER GENERATED ALWAYS AS (json_extract(body, '$.session')) VIRTUAL,
    recording TEXT GENERATED ALWAYS AS (json_extract(body, '$.recording')) VIRTUAL
);
CREATE INDEX by_kind ON entries (kind, entry);
CREATE INDEX by_mmsi ON entries (mmsi, entry) WHERE mmsi IS NOT NULL;
CREATE INDEX by_alert ON entries (alert, entry) WHERE alert IS NOT NULL;
CREATE INDEX by_recording ON entries (recording) WHERE recording IS NOT NULL;
CREATE TRIGGER entries_are_not_altered BEFORE UPDATE ON entries
BEGIN SELECT RAISE(ABORT, 'an entry is never altered: write another that refers to it'); END;
CREATE TRIGGER entries_are_not_deleted BEFORE DELETE ON entries
BEGIN SELECT RAISE(ABORT, 'an entry is never deleted'); END;
