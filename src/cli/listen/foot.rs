//! The last lines of the terminal, which stay: pitch, kind and next move, what sounds now, what may be
//! typed, and the line in which it is typed. Everything else scrolls above them.

use std::io::{self, Write};

use crossterm::cursor::{MoveTo, RestorePosition, SavePosition};
use crossterm::queue;
use crossterm::style::Print;
use crossterm::terminal::{Clear, ClearType, size};

use crate::words::prompt::HINTS;

/// Lines that stay.
const ROWS: u16 = 5;
/// Smaller terminals have lines that scroll, and none that stay.
const LEAST: (u16, u16) = (60, 20);

/// The foot of a terminal. Dropping it gives the whole screen back.
pub(super) struct Foot {
    columns: u16,
    rows: u16,
    /// Pitch and kind, and the next move.
    told: [String; 2],
}

impl Foot {
    /// Takes the last lines; `None` where the terminal is too small for them.
    pub fn begin() -> Option<Self> {
        let (columns, rows) = size().ok()?;
        if columns < LEAST.0 || rows < LEAST.1 {
            return None;
        }
        let mut foot = Self { columns, rows, told: [String::new(), String::new()] };
        // What stands there scrolls up first.
        let mut out = io::stdout().lock();
        let _ = write!(out, "{}", "\n".repeat(usize::from(ROWS)));
        drop(out);
        foot.settle();
        Some(foot)
    }

    /// Keeps what scrolls to the lines above.
    fn settle(&mut self) {
        let mut out = io::stdout().lock();
        let _ = write!(out, "\u{1b}[1;{}r", self.rows - ROWS);
        for row in self.rows - ROWS..self.rows {
            let _ = queue!(out, MoveTo(0, row), Clear(ClearType::CurrentLine));
        }
        let hint = HINTS.iter().find(|hint| hint.chars().count() < usize::from(self.columns));
        let _ = queue!(out, MoveTo(0, self.rows - 2), Print(hint.unwrap_or(&"")));
        let _ = out.flush();
        drop(out);
        self.tell(self.told.clone());
        self.typed();
    }

    /// After another size: the lines are taken anew.
    pub fn follow(&mut self) {
        if let Ok((columns, rows)) = size()
            && (columns, rows) != (self.columns, self.rows)
            && rows > ROWS + 2
        {
            (self.columns, self.rows) = (columns, rows);
            self.settle();
        }
    }

    /// What stands in the first two lines from now on.
    pub fn tell(&mut self, told: [String; 2]) {
        for (place, line) in told.iter().enumerate() {
            self.line(place as u16, line);
        }
        self.told = told;
    }

    /// What sounds now.
    pub fn live(&mut self, text: &str) {
        self.line(2, text);
    }

    /// Writes a line that stays; what is typed is not touched.
    fn line(&self, place: u16, text: &str) {
        let width = usize::from(self.columns.saturating_sub(1));
        let fitting: String = match text.chars().count() > width {
            true => text.chars().take(width.saturating_sub(1)).chain(['…']).collect(),
            false => text.to_owned(),
        };
        let mut out = io::stdout().lock();
        let row = self.rows - ROWS + place;
        let _ = queue!(
            out,
            SavePosition,
            MoveTo(0, row),
            Clear(ClearType::CurrentLine),
            Print(fitting),
            RestorePosition
        );
        let _ = out.flush();
    }

    /// After a line was typed: the place for the next.
    pub fn typed(&self) {
        let mut out = io::stdout().lock();
        let row = self.rows - 1;
        let _ = queue!(out, MoveTo(0, row), Clear(ClearType::CurrentLine), Print("> "));
        let _ = out.flush();
    }

    /// Prints lines above, which scroll.
    ///
    /// Errors: nobody reads standard output any more.
    pub fn print(&self, text: &str) -> io::Result<()> {
        let mut out = io::stdout().lock();
        queue!(out, SavePosition)?;
        for line in text.lines() {
            queue!(out, MoveTo(0, self.rows - ROWS - 1), Print("\n"), Print(line))?;
        }
        queue!(out, RestorePosition)?;
        out.flush()
    }
}

impl Drop for Foot {
    fn drop(&mut self) {
        let mut out = io::stdout().lock();
        let _ = write!(out, "\u{1b}[r");
        for row in self.rows - ROWS..self.rows {
            let _ = queue!(out, MoveTo(0, row), Clear(ClearType::CurrentLine));
        }
        let _ = queue!(out, MoveTo(0, self.rows - ROWS));
        let _ = out.flush();
    }
}
