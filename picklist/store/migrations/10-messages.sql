-- Scheduling messages of other systems: what a white list lets in, and the key by which texts become marks.

CREATE TABLE message_key (key TEXT NOT NULL);

CREATE TABLE message (
    serial INTEGER PRIMARY KEY,
    arrived TEXT NOT NULL,
    control TEXT NOT NULL,
    appointment TEXT NOT NULL,
    digest TEXT NOT NULL,
    answer TEXT NOT NULL,
    place TEXT NOT NULL,
    why TEXT NOT NULL,
    event TEXT
);

CREATE INDEX message_digest ON message (digest);
CREATE INDEX message_appointment ON message (appointment);
CREATE TABLE message_schedule (digest TEXT NOT NULL);
