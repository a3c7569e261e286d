-- What was heard, hour by hour, by which a watch judges whether the ship hears as she did. It is memory
-- and no evidence: in no chain, bounded, and where it is lost it is gathered again.
CREATE TABLE reach_hour (
    ended_ms INTEGER NOT NULL,
    hour TEXT NOT NULL
);

CREATE INDEX reach_hour_by_end ON reach_hour (ended_ms);
