//! The form of the log's tables, version by version.
//!
//! A version once released is never edited: a later one only adds. `user_version` in the file says
//! which it has; `application_id` says that it is a reed log.

/// Marks a file as a reed log: "reed" in ASCII.
pub const APPLICATION_ID: i64 = 0x7265_6564;

/// What brings a log from version `n` to `n + 1`, for each `n` from 0 on.
pub const UPGRADES: &[&str] = &[V1, V2, V3, V4, V5, V6];

/// The version this program writes.
pub const VERSION: i64 = UPGRADES.len() as i64;

/// How all rows of a reed are found, those that an undo took back among them. They change nothing of what a
/// log holds or who can read it, so they are no version of their own: whoever writes to a log adds
/// those it lacks.
pub const INDEXES: &str = "
CREATE INDEX IF NOT EXISTS step_reed ON step (reed_id);
CREATE INDEX IF NOT EXISTS take_reed ON take (reed_id);
CREATE INDEX IF NOT EXISTS reading_reed ON reading (reed_id);
CREATE INDEX IF NOT EXISTS heard_reed ON heard (reed_id);
";

// Rows are never deleted: `gone` is set on those an undo took back.
const V1: &str = "
CREATE TABLE reed (
    id INTEGER PRIMARY KEY,
    gone INTEGER NOT NULL DEFAULT 0,
    uid TEXT NOT NULL UNIQUE,
    at TEXT NOT NULL,
    label TEXT NOT NULL,
    owner TEXT,
    maker TEXT,
    profile TEXT,
    a4_hz REAL,
    cane TEXT,
    gouge_mm REAL,
    gouge_state TEXT,
    shape TEXT,
    staple TEXT,
    thread TEXT,
    made_on TEXT,
    complaint TEXT,
    ending TEXT,
    ending_note TEXT,
    ended_at TEXT
);
CREATE UNIQUE INDEX reed_label ON reed (label COLLATE NOCASE) WHERE gone = 0;

CREATE TABLE step (
    id INTEGER PRIMARY KEY,
    gone INTEGER NOT NULL DEFAULT 0,
    reed_id INTEGER NOT NULL REFERENCES reed (id),
    at TEXT NOT NULL,
    number INTEGER,             -- 1, 2, 3 ... of the cuts; null for a note
    cut TEXT NOT NULL,
    amount_mm REAL,
    note TEXT
);
CREATE UNIQUE INDEX step_number ON step (reed_id, number) WHERE gone = 0;

CREATE TABLE measurement (
    id INTEGER PRIMARY KEY,
    gone INTEGER NOT NULL DEFAULT 0,
    reed_id INTEGER NOT NULL REFERENCES reed (id),
    after_step INTEGER NOT NULL,
    at TEXT NOT NULL,
    state TEXT,                 -- wet or dry
    measurements TEXT NOT NULL  -- JSON
);
CREATE INDEX measurement_reed ON measurement (reed_id);

CREATE TABLE inspection (
    id INTEGER PRIMARY KEY,
    gone INTEGER NOT NULL DEFAULT 0,
    reed_id INTEGER NOT NULL REFERENCES reed (id),
    after_step INTEGER NOT NULL,
    at TEXT NOT NULL,
    inspection TEXT NOT NULL    -- JSON
);
CREATE INDEX inspection_reed ON inspection (reed_id);

CREATE TABLE take (
    id INTEGER PRIMARY KEY,
    gone INTEGER NOT NULL DEFAULT 0,
    reed_id INTEGER NOT NULL REFERENCES reed (id),
    number INTEGER NOT NULL,
    after_step INTEGER NOT NULL,
    at TEXT NOT NULL,
    sha256 TEXT NOT NULL,
    bytes INTEGER NOT NULL,
    source TEXT NOT NULL
);
CREATE UNIQUE INDEX take_number ON take (reed_id, number) WHERE gone = 0;

CREATE TABLE reading (
    id INTEGER PRIMARY KEY,
    gone INTEGER NOT NULL DEFAULT 0,
    reed_id INTEGER NOT NULL REFERENCES reed (id),
    take_id INTEGER NOT NULL REFERENCES take (id),
    at TEXT NOT NULL,
    program TEXT NOT NULL,      -- version that read the take
    reading TEXT NOT NULL,      -- JSON
    advice TEXT                 -- JSON
);
CREATE INDEX reading_take ON reading (take_id);

CREATE TABLE change (
    id INTEGER PRIMARY KEY,
    reed_id INTEGER REFERENCES reed (id),
    at TEXT NOT NULL,
    program TEXT NOT NULL,
    what TEXT NOT NULL,
    undoes INTEGER REFERENCES change (id)
);
CREATE INDEX change_reed ON change (reed_id);
CREATE INDEX change_undoes ON change (undoes);

CREATE TABLE change_row (
    id INTEGER PRIMARY KEY,
    change_id INTEGER NOT NULL REFERENCES change (id),
    in_table TEXT NOT NULL,
    row_id INTEGER NOT NULL,
    before TEXT,                -- JSON of the whole row; null where the change made it
    after TEXT NOT NULL
);
CREATE INDEX change_row_change ON change_row (change_id);
";

// How the reed was crowed: on the reed as last said, and on each take as it was then.
const V2: &str = "
ALTER TABLE reed ADD COLUMN conditions TEXT;    -- JSON
ALTER TABLE reed ADD COLUMN conditions_at TEXT;
ALTER TABLE take ADD COLUMN conditions TEXT;    -- JSON
";

// What makers hear of crows, which teaches the ear that judges for them; a due date on the card; what is
// said once of the whole log, such as who sends its accounts; and of each reading the few figures that
// questions over many reeds need. The last are made by the database itself whenever a reading is
// written, so that no way of writing one can forget them; they are not facts of their own, hence neither
// audited nor exported.
const V3: &str = "
CREATE TABLE heard (
    id INTEGER PRIMARY KEY,
    gone INTEGER NOT NULL DEFAULT 0,
    reed_id INTEGER NOT NULL REFERENCES reed (id),
    take_id INTEGER NOT NULL REFERENCES take (id),
    at TEXT NOT NULL,
    profile TEXT NOT NULL,
    crow INTEGER NOT NULL,
    heard TEXT NOT NULL,
    kind TEXT NOT NULL,
    measured TEXT               -- JSON
);
CREATE INDEX heard_take ON heard (take_id);

ALTER TABLE reed ADD COLUMN due_on TEXT;

CREATE TABLE setting (
    name TEXT PRIMARY KEY,
    at TEXT NOT NULL,
    value TEXT NOT NULL         -- JSON
);

CREATE INDEX reading_latest ON reading (take_id, gone, id);
CREATE INDEX change_row_row ON change_row (in_table, row_id);

CREATE TABLE outline (
    reading_id INTEGER PRIMARY KEY REFERENCES reading (id),
    profile TEXT,
    a4_hz REAL,
    crows TEXT NOT NULL         -- JSON: for each crow what the view below lists
);
CREATE VIEW outlined AS
SELECT reading.id AS reading_id,
       json_extract(reading.reading, '$.profile') AS profile,
       json_extract(reading.reading, '$.a4_hz') AS a4_hz,
       (SELECT json_group_array(json_array(
            json_extract(crow.value, '$.kind'),
            json_extract(crow.value, '$.fundamental.hz'),
            json_extract(crow.value, '$.fundamental.ci95_cents'),
            json_extract(crow.value, '$.fundamental.target_cents'),
            json_extract(crow.value, '$.fundamental.register'),
            json_extract(crow.value, '$.alignment.cents'),
            json_extract(crow.value, '$.level_dbfs')))
        FROM json_each(reading.reading, '$.crows') AS crow) AS crows
FROM reading WHERE json_valid(reading.reading);
INSERT INTO outline SELECT * FROM outlined;
CREATE TRIGGER outline_made AFTER INSERT ON reading BEGIN
    INSERT OR REPLACE INTO outline SELECT * FROM outlined WHERE reading_id = NEW.id;
END;
CREATE TRIGGER outline_made_again AFTER UPDATE OF reading ON reading BEGIN
    DELETE FROM outline WHERE reading_id = NEW.id;
    INSERT INTO outline SELECT * FROM outlined WHERE reading_id = NEW.id;
END;
";

/// Both tables of [`V4`] forget a reed whenever anything of it is written, whoever writes it.
macro_rules! forgotten_with {
    ($($table:literal $reed_id:literal),*) => {
        concat!($(
            forgotten_with!(@ "added", "INSERT", "NEW", $table, $reed_id),
            forgotten_with!(@ "changed", "UPDATE", "NEW", $table, $reed_id),
            forgotten_with!(@ "lost", "DELETE", "OLD", $table, $reed_id),
        )*)
    };
    (@ $named:literal, $on:literal, $row:literal, $table:literal, $reed_id:literal) => {
        concat!(
            "CREATE TRIGGER way_", $table, "_", $named, " AFTER ", $on, " ON ", $table, " BEGIN\n",
            "    DELETE FROM way WHERE reed_id = ", $row, ".", $reed_id, ";\n",
            "    DELETE FROM next_move WHERE reed_id = ", $row, ".", $reed_id, ";\nEND;\n"
        )
    };
}

// What was reckoned of each reed and still holds: its way, on which questions over many reeds rest, and the
// move that comes next. They are not facts of their own, hence neither audited nor exported; a program
// that finds none, or one of another reckoning, reckons anew.
const V4: &str = concat!(
    "
CREATE TABLE way (
    reed_id INTEGER PRIMARY KEY REFERENCES reed (id),
    reckoned_by TEXT NOT NULL,
    way TEXT NOT NULL           -- JSON
);
CREATE TABLE next_move (
    reed_id INTEGER PRIMARY KEY REFERENCES reed (id),
    reckoned_by TEXT NOT NULL,
    advice TEXT NOT NULL        -- JSON
);
",
    forgotten_with!(
        "reed" "id",
        "step" "reed_id",
        "measurement" "reed_id",
        "inspection" "reed_id",
        "take" "reed_id",
        "reading" "reed_id",
        "heard" "reed_id"
    )
);

// How good a reed is to whoever plays it.
const V5: &str = "
CREATE TABLE rating (
    id INTEGER PRIMARY KEY,
    gone INTEGER NOT NULL DEFAULT 0,
    reed_id INTEGER NOT NULL REFERENCES reed (id),
    after_step INTEGER NOT NULL,
    at TEXT NOT NULL,
    rated_by TEXT,
    rating TEXT NOT NULL        -- JSON
);
CREATE INDEX rating_reed ON rating (reed_id);
";

// What stood as advice when a cut was made.
const V6: &str = "
ALTER TABLE step ADD COLUMN advised TEXT;       -- JSON
";
