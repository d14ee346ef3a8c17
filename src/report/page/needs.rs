//! What needs attention first, with a way to each take's row.

use std::fmt::Write;

use super::PageRow;
use super::markup::escape;
use super::names::name;
use crate::report::needs::{Need, TITLE};

/// The list; empty where nothing needs attention.
///
/// * `folder`: what names count from.
pub(super) fn section(needs: &[Need], rows: &[PageRow], folder: &str) -> String {
    if needs.is_empty() {
        return String::new();
    }
    let mut html = format!(
        "<section class=\"needs\" aria-labelledby=\"needs\">\n<h2 id=\"needs\">{TITLE}</h2>\n<ul>\n"
    );
    for need in needs {
        let _ = write!(html, "<li>{}", escape(&need.what));
        if !need.first.is_empty() {
            html += "<ul>";
            for take in &need.first {
                let shown = escape(name(&take.source, folder));
                let row = rows.iter().position(|row| row.source == take.source);
                let shown = match row {
                    Some(index) => format!("<a href=\"#take-{}\">{shown}</a>", index + 1),
                    None => shown,
                };
                let said = match take.said.as_str() {
                    "" => String::new(),
                    said => format!(": {}", escape(said)),
                };
                let _ = write!(html, "<li>{shown}{said}</li>");
            }
            if need.more > 0 {
                let _ = write!(html, "<li>and {} more</li>", need.more);
            }
            html += "</ul>";
        }
        html += "</li>\n";
    }
    html + "</ul>\n</section>\n"
}
