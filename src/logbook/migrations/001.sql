-- One table. The body is the only truth: what is searched by is computed from it, so that nothing
-- can be altered beside the hash. `at_ms` is the time a list shows: the host's, or the later of
-- the host's and the position receiver's where the two differ by more than 2 s.
PRAGMA application_id = 0x6F767364;

CREATE TABLE entry (
    entry INTEGER PRIMARY KEY AUTOINCREMENT,
    body TEXT NOT NULL,
    previous TEXT NOT NULL,
    hash TEXT NOT NULL,
    kind TEXT GENERATED ALWAYS AS (json_extract(body, '$.kind')) VIRTUAL,
    priority TEXT GENERATED ALWAYS AS (json_extract(body, '$.priority')) VIRTUAL,
    cause TEXT GENERATED ALWAYS AS (json_extract(body, '$.cause')) VIRTUAL,
    state TEXT GENERATED ALWAYS AS (json_extract(body, '$.state')) VIRTUAL,
    mmsi INTEGER GENERATED ALWAYS AS (json_extract(body, '$.mmsi')) VIRTUAL,
    alert INTEGER GENERATED ALWAYS AS (json_extract(body, '$.alert')) VIRTUAL,
    at_ms INTEGER GENERATED ALWAYS AS (
        CASE
            WHEN abs(json_extract(body, '$.gnss_ms') - json_extract(body, '$.host_ms')) > 2000
            THEN max(json_extract(body, '$.gnss_ms'), json_extract(body, '$.host_ms'))
            ELSE json_extract(body, '$.host_ms')
        END
    ) VIRTUAL
);

CREATE INDEX entry_by_time ON entry (at_ms);
CREATE INDEX entry_by_kind ON entry (kind);
CREATE INDEX entry_by_priority ON entry (priority) WHERE priority IS NOT NULL;
CREATE INDEX entry_by_cause ON entry (cause) WHERE cause IS NOT NULL;
CREATE INDEX entry_by_mmsi ON entry (mmsi) WHERE mmsi IS NOT NULL;
-- Holds all that is asked to find the alerts that are open.
CREATE INDEX entry_by_alert ON entry (alert, kind, state) WHERE alert IS NOT NULL;

CREATE TRIGGER entry_is_never_altered BEFORE UPDATE ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry is never altered: write a new one that refers to it');
END;

CREATE TRIGGER entry_is_never_removed BEFORE DELETE ON entry
BEGIN
    SELECT RAISE(ABORT, 'an entry is never removed');
END;
