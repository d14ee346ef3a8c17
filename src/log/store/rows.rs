//! Rows of any table as JSON objects: the one form in which they are audited, undone, exported
//! and read back.

use rusqlite::types::{Value as Cell, ValueRef};
use rusqlite::{Connection, OptionalExtension, Params, params_from_iter};
use serde::Serialize;
use serde_json::Value;

use crate::log::{BadForm, BadValue, Damage, LogError, Senseless, Unfit};

/// A row without its `id` and `gone`, column by column.
pub type Row = serde_json::Map<String, Value>;

/// A row of a table, gone or not.
#[derive(Debug, Clone, PartialEq)]
pub struct Kept {
    /// Its key.
    pub id: i64,
    /// Whether an undo took it back.
    pub gone: bool,
    /// The rest.
    pub row: Row,
}

impl Kept {
    /// Whether this row holds what the audit says was `written`. Columns that the audit does not
    /// know (an earlier form wrote it) must be empty.
    pub fn holds(&self, written: &Self) -> bool {
        let absent = Value::Null;
        self.gone == written.gone
            && self
                .row
                .iter()
                .all(|(column, value)| written.row.get(column).unwrap_or(&absent) == value)
    }
}

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Form {
    /// Text or a number.
    Plain,
    /// JSON, kept as text.
    Json,
    /// The key of a row of the table of that name.
    Key(&'static str),
}

/// A table whose changes are audited.
#[derive(Debug)]
pub struct Table {
    /// Its name.
    pub name: &'static str,
    /// Its columns besides `id` and `gone`.
    pub columns: &'static [(&'static str, Form)],
}

impl Table {
    /// The audited tables; each stands after those its keys point to.
    pub const ALL: [&'static Self; 8] =
        [&REED, &STEP, &MEASUREMENT, &INSPECTION, &TAKE, &READING, &HEARD, &RATING];

    /// By name.
    pub fn named(name: &str) -> Option<&'static Self> {
        Self::ALL.into_iter().find(|table| table.name == name)
    }

    /// The rows that satisfy `filter`, an SQL condition, in order of their keys.
    pub fn select(
        &self,
        connection: &Connection,
        filter: &str,
        parameters: impl Params,
    ) -> Result<Vec<Kept>, LogError> {
        let sql = format!(
            "SELECT id, gone, {} FROM {} WHERE {filter} ORDER BY id",
            self.names().collect::<Vec<_>>().join(", "),
            self.name
        );
        let mut statement = connection.prepare_cached(&sql)?;
        let mut found = statement.query(parameters)?;
        let mut rows = Vec::new();
        while let Some(record) = found.next()? {
            let id: i64 = record.get(0)?;
            let mut row = Row::new();
            for (index, (name, form)) in self.columns.iter().enumerate() {
                let value = self.value(record.get_ref(index + 2)?, *form).map_err(|form| {
                    self.bad_row(id, Senseless::Unreadable { field: name, form })
                })?;
                row.insert((*name).to_owned(), value);
            }
            rows.push(Kept { id, gone: record.get::<_, i64>(1)? != 0, row });
        }
        Ok(rows)
    }

    /// The keys of all rows, gone or not, each with the label of its reed.
    pub fn keys(&self, connection: &Connection) -> Result<Vec<(i64, String)>, LogError> {
        let sql = match self.name {
            "reed" => "SELECT id, label FROM reed ORDER BY id".to_owned(),
            name => format!(
                "SELECT kept.id, reed.label FROM {name} AS kept \
                 LEFT JOIN reed ON reed.id = kept.reed_id ORDER BY kept.id"
            ),
        };
        let mut statement = connection.prepare(&sql)?;
        let found = statement.query_map([], |record| {
            let label = record.get_ref(1)?.as_bytes_or_null().ok().flatten();
            let label = label.map(|label| String::from_utf8_lossy(label).into_owned());
            Ok((record.get(0)?, label.unwrap_or_else(|| "?".into())))
        })?;
        Ok(found.collect::<Result<_, _>>()?)
    }

    /// The row of that key, gone or not.
    pub fn get(&self, connection: &Connection, id: i64) -> Result<Option<Kept>, LogError> {
        Ok(self.select(connection, "id = ?1", [id])?.into_iter().next())
    }

    /// Adds a row, under `id` where one is given; returns its key.
    pub fn insert(
        &self,
        connection: &Connection,
        id: Option<i64>,
        gone: bool,
        row: &Row,
    ) -> Result<i64, LogError> {
        let marks = vec!["?"; self.columns.len() + 2].join(", ");
        let sql = format!(
            "INSERT INTO {} (id, gone, {}) VALUES ({marks}) RETURNING id",
            self.name,
            self.names().collect::<Vec<_>>().join(", ")
        );
        let cells = [id.map_or(Cell::Null, Cell::Integer), Cell::Integer(gone.into())]
            .into_iter()
            .chain(self.cells(row)?);
        let id = connection
            .prepare_cached(&sql)?
            .query_row(params_from_iter(cells), |record| record.get(0))
            .optional()?;
        id.ok_or_else(|| LogError::Damaged(Damage::TookNone(self.name)))
    }

    /// Overwrites the row of that key.
    pub fn update(&self, connection: &Connection, kept: &Kept) -> Result<(), LogError> {
        let sets = self.names().map(|name| format!("{name} = ?")).collect::<Vec<_>>().join(", ");
        let sql = format!("UPDATE {} SET gone = ?, {sets} WHERE id = ?", self.name);
        let cells = std::iter::once(Cell::Integer(kept.gone.into()))
            .chain(self.cells(&kept.row)?)
            .chain([Cell::Integer(kept.id)]);
        connection.prepare_cached(&sql)?.execute(params_from_iter(cells))?;
        Ok(())
    }

    fn names(&self) -> impl Iterator<Item = &'static str> {
        self.columns.iter().map(|(name, _)| *name)
    }

    /// A column the row lacks (one of an earlier version) is empty.
    fn cells(&self, row: &Row) -> Result<Vec<Cell>, LogError> {
        self.columns
            .iter()
            .map(|(name, form)| match (row.get(*name), form) {
                (None | Some(Value::Null), _) => Ok(Cell::Null),
                (Some(value), Form::Json) => Ok(Cell::Text(value.to_string())),
                (Some(Value::String(text)), _) => Ok(Cell::Text(text.clone())),
                (Some(Value::Number(number)), _) => match (number.as_i64(), number.as_f64()) {
                    (Some(integer), _) => Ok(Cell::Integer(integer)),
                    (None, Some(real)) => Ok(Cell::Real(real)),
                    (None, None) => Err(self.bad(name, BadValue::OutOfRange)),
                },
                (Some(_), _) => Err(self.bad(name, BadValue::OtherKind)),
            })
            .collect()
    }

    /// Errors: what it holds that cannot be read.
    fn value(&self, cell: ValueRef<'_>, form: Form) -> Result<Value, BadForm> {
        let text = |bytes: &[u8]| String::from_utf8(bytes.to_vec()).map_err(|_| BadForm::NoText);
        Ok(match cell {
            ValueRef::Null => Value::Null,
            ValueRef::Integer(integer) => integer.into(),
            ValueRef::Real(real) => real.into(),
            ValueRef::Text(bytes) if form == Form::Json => {
                serde_json::from_slice(bytes).map_err(|_| BadForm::BrokenJson)?
            }
            ValueRef::Text(bytes) => text(bytes)?.into(),
            ValueRef::Blob(_) => return Err(BadForm::NoText),
        })
    }

    pub(super) fn bad_row(&self, row: i64, what: Senseless) -> LogError {
        LogError::Row { reed: None, table: self.name, row, what }
    }

    fn bad(&self, column: &'static str, form: BadValue) -> LogError {
        LogError::Damaged(Damage::Value { table: self.name, column, form })
    }
}

/// A typed record as a row.
pub fn to_row(record: &impl Serialize) -> Result<Row, LogError> {
    match serde_json::to_value(record) {
        Ok(Value::Object(row)) => Ok(row),
        Ok(other) => Err(LogError::Damaged(Damage::NotARow(other.to_string()))),
        Err(error) => Err(Unfit::NotKept(error).into()),
    }
}

use Form::{Json, Key, Plain};

/// The reeds' cards.
pub static REED: Table = Table {
    name: "reed",
    columns: &[
        ("uid", Plain),
        ("at", Plain),
        ("label", Plain),
        ("owner", Plain),
        ("maker", Plain),
        ("profile", Plain),
        ("a4_hz", Plain),
        ("cane", Plain),
        ("gouge_mm", Plain),
        ("gouge_state", Plain),
        ("shape", Plain),
        ("staple", Plain),
        ("thread", Plain),
        ("made_on", Plain),
        ("complaint", Plain),
        ("ending", Plain),
        ("ending_note", Plain),
        ("ended_at", Plain),
        ("conditions", Json),
        ("conditions_at", Plain),
        ("due_on", Plain),
    ],
};

/// What was done to them.
pub static STEP: Table = Table {
    name: "step",
    columns: &[
        ("reed_id", Key("reed")),
        ("at", Plain),
        ("number", Plain),
        ("cut", Plain),
        ("amount_mm", Plain),
        ("note", Plain),
        ("advised", Json),
    ],
};

/// What was measured.
pub static MEASUREMENT: Table = Table {
    name: "measurement",
    columns: &[
        ("reed_id", Key("reed")),
        ("after_step", Plain),
        ("at", Plain),
        ("state", Plain),
        ("measurements", Json),
    ],
};

/// What was seen.
pub static INSPECTION: Table = Table {
    name: "inspection",
    columns: &[
        ("reed_id", Key("reed")),
        ("after_step", Plain),
        ("at", Plain),
        ("inspection", Json),
    ],
};

/// What was recorded.
pub static TAKE: Table = Table {
    name: "take",
    columns: &[
        ("reed_id", Key("reed")),
        ("number", Plain),
        ("after_step", Plain),
        ("at", Plain),
        ("sha256", Plain),
        ("bytes", Plain),
        ("source", Plain),
        ("conditions", Json),
    ],
};

/// What the recordings said, each time they were read.
pub static READING: Table = Table {
    name: "reading",
    columns: &[
        ("reed_id", Key("reed")),
        ("take_id", Key("take")),
        ("at", Plain),
        ("program", Plain),
        ("reading", Json),
        ("advice", Json),
    ],
};

/// What the maker said they heard.
pub static HEARD: Table = Table {
    name: "heard",
    columns: &[
        ("reed_id", Key("reed")),
        ("take_id", Key("take")),
        ("at", Plain),
        ("profile", Plain),
        ("crow", Plain),
        ("heard", Plain),
        ("kind", Plain),
        ("measured", Json),
    ],
};

/// How good reeds are said to be.
pub static RATING: Table = Table {
    name: "rating",
    columns: &[
        ("reed_id", Key("reed")),
        ("after_step", Plain),
        ("at", Plain),
        ("rated_by", Plain),
        ("rating", Json),
    ],
};

/// The row with the key of its reed.
pub fn of(reed: i64, mut row: Row) -> Row {
    row.insert("reed_id".into(), reed.into());
    row
}
