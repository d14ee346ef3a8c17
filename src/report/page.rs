//! One self-contained HTML page over many takes: it opens from disk and fetches nothing.
//!
//! Rows made from readings enter, the text of the page leaves. Everything is in the page when it
//! arrives, so that it reads without scripts too; the script only sorts and filters. The table is
//! a table, its headings are buttons, and every chart has its content in words.

mod charts;
mod ladder;
mod names;
mod needs;
mod row;
mod table;

pub use names::{common_folder, link};
pub use needs::{Need, Needy};
pub use row::{HeldTo, PageFigures, PageNext, PageRow};

use charts::{alignment_against_pitch, pitch_distribution};

use std::path::Path;

use maud::{PreEscaped, html};

use super::distribution;
use crate::words::reading::PLUS_MINUS;
use crate::words::takes as words;

/// How every page begins.
const HEAD: &str = "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n\
     <meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n\
     <meta http-equiv=\"Content-Security-Policy\" content=\"default-src 'none'; \
     style-src 'unsafe-inline'; script-src 'unsafe-inline'\">\n";

/// Whether a file that begins with `opening` is a page of this program.
pub fn is_page(opening: &[u8]) -> bool {
    opening.starts_with(HEAD.as_bytes())
}

/// The page over `rows`, in their order.
///
/// * `title`: what the rows are, for instance the folder they come from.
/// * `needs`: what needs attention first.
/// * `link`: how the page links to a picture; `None` where it cannot.
///
/// Returns a whole HTML document in UTF-8.
pub fn page(
    title: &str,
    held_to: &HeldTo,
    rows: &[PageRow],
    needs: &[Need],
    link: impl Fn(&Path) -> Option<String>,
) -> String {
    let failed = rows.iter().filter(|row| row.outcome.is_err()).count();
    let with_crow = rows
        .iter()
        .filter(|row| row.outcome.as_ref().is_ok_and(|figures| figures.crow_count > 0))
        .count();
    let folder = common_folder(rows.iter().map(|row| row.source.as_str()));
    let figures: Vec<&PageFigures> =
        rows.iter().filter_map(|row| row.outcome.as_ref().ok()).collect();
    let has_pictures = rows.iter().any(|row| row.picture.is_some());
    let page = html! {
        (PreEscaped(HEAD))
        title { (title) }
        style { (PreEscaped(include_str!("page/style.css"))) }
        (PreEscaped("</head>\n<body>\n"))
        header {
            h1 { (title) }
            p {
                (words::takes(rows.len(), with_crow, failed)) " "
                (words::cents_count_from(&held_to.pitch_from()))
                @if !folder.is_empty() { " " (words::NAMED_FROM) " " span.path { (folder) } "." }
                @if has_pictures { " " (words::LINKED) }
            }
            @if !figures.is_empty() { p { (words::kinds(&kinds(&figures, held_to))) } }
        }
        main {
            (needs::section(needs, rows, &folder))
            div.charts {
                (pitch_distribution(&figures, held_to))
                (alignment_against_pitch(rows, &folder, held_to))
            }
            (table::table(rows, &folder, held_to, link))
            p.foot { (PLUS_MINUS) }
        }
        script { (PreEscaped(include_str!("page/sort.js"))) }
        (PreEscaped("</body>\n</html>\n"))
    };
    // What no document may hold is seen as something that is missing.
    let is_kept = |letter: char| letter == '\n' || !letter.is_control();
    page.into_string().chars().map(|c| if is_kept(c) { c } else { '\u{fffd}' }).collect()
}

/// How many takes are of each kind.
fn kinds(figures: &[&PageFigures], held_to: &HeldTo) -> String {
    let heard = figures.iter().map(|figures| Some((figures.kind?, held_to.is_upper(figures))));
    distribution::kinds(heard.map(|heard| (heard, 1)))
}

#[cfg(test)]
mod tests {
    use super::row::PageRung;
    use super::*;
    use crate::advice::Move;
    use crate::profile::Profile;
    use crate::reading::Kind;
    use crate::report::page::Needy;
    use crate::words::batch::{NEED_ATTENTION, more};

    fn row(source: &str, kind: Kind, target_cents: f64, alignment_cents: Option<f64>) -> PageRow {
        let figures = PageFigures {
            kind: Some(kind),
            register: Some(0),
            crow_count: 2,
            note: Some("C5".into()),
            note_cents: Some(target_cents),
            target_cents: Some(target_cents),
            ci95_cents: Some(0.8),
            alignment_cents,
            locked: alignment_cents.map(|cents| cents.abs() <= 5.0),
            rungs: vec![
                PageRung { hz: 511.9, level_db: -6.0, present: 1.0, octave: 0 },
                PageRung { hz: 1023.9, level_db: -2.0, present: 0.7, octave: 1 },
            ],
            crow_cents: vec![Some(target_cents - 3.0), None, Some(target_cents + 3.0)],
            spread_cents: Some(2.0),
            onset_s: Some(0.04),
            level_dbfs: Some(-18.0),
            warnings: vec!["quiet: move closer".into()],
            next: Some(PageNext { next: Move::Clip, place: None, amount_mm: Some(0.2) }),
        };
        PageRow { source: source.into(), outcome: Ok(figures), picture: None }
    }

    fn page(title: &str, held_to: &HeldTo, rows: &[PageRow]) -> String {
        super::page(title, held_to, rows, &[], |_| None)
    }

    fn held_to() -> HeldTo {
        HeldTo::of(&Profile::default())
    }

    const WHY_NOT: &str = "a cat lay on it";

    fn rows() -> Vec<PageRow> {
        vec![
            row("b <script>alert(1)</script>.wav", Kind::Octaves, -38.0, Some(1.0)),
            row("a \"quoted\" & odd.wav", Kind::Split, 12.0, Some(34.0)),
            row("c.wav", Kind::Single, 4.0, None),
            PageRow::failed("d.wav", WHY_NOT),
        ]
    }

    #[test]
    fn the_page_fetches_nothing_and_runs_only_its_own_script() {
        let page = page("reeds & <more>", &held_to(), &rows());
        assert!(page.starts_with("<!DOCTYPE html>"));
        assert_eq!(page.matches("<script").count(), 1);
        assert!(page.contains("default-src 'none'"));
        for fetched in ["http://", "https://", "src=", "@import", "url("] {
            assert!(!page.contains(fetched), "{fetched}");
        }
        assert!(page.contains("<title>reeds &amp; &lt;more&gt;</title>"));
        assert!(page.contains("a &quot;quoted&quot; &amp; odd.wav"));
    }

    #[test]
    fn every_take_has_a_row_and_every_column_a_cell() {
        let page = page("reeds", &held_to(), &rows());
        let body = page.split("<tbody>").nth(1).unwrap().split("</tbody>").next().unwrap();
        let rows: Vec<&str> = body.split("<tr ").skip(1).collect();
        assert_eq!(rows.len(), 4);
        let columns = page.matches("<th scope=\"col\"").count();
        for row in rows {
            assert_eq!(row.matches("<td").count() + row.matches("<th").count(), columns);
        }
        assert!(page.contains(WHY_NOT));
        assert!(page.contains(&words::takes(4, 3, 1)));
    }

    #[test]
    fn a_take_with_a_picture_leads_to_it() {
        let mut rows = rows();
        rows[1].picture = Some("/pictures/a \"b\".svg".into());
        let page =
            super::page("reeds", &held_to(), &rows, &[], |picture| link(Path::new("/"), picture));
        assert_eq!(page.matches("<a href=\"pictures/").count(), 1);
        assert!(page.contains("<a href=\"pictures/a%20%22b%22.svg\">a &quot;quoted"), "{page}");
    }

    #[test]
    fn charts_say_in_words_what_they_show() {
        let page = page("reeds", &held_to(), &rows());
        assert!(page.contains(&words::distribution(
            [1, 2, 0],
            15.0,
            ["+4", "−17", "+8"].map(str::to_owned)
        )));
        let one_each =
            [Kind::Octaves, Kind::Single, Kind::Split].map(|kind| (Some((kind, false)), 1));
        assert!(page.contains(&words::kinds(&distribution::kinds(one_each.into_iter()))));
        assert!(page.contains(&words::octaves(2, 1, 5.0, 0)));
        assert!(page.contains(&format!("{}: 1", crate::words::card::kind(Kind::Split, false))));
        assert!(page.contains(" −41, none, −35."), "the crows' own cents");
    }

    #[test]
    fn what_needs_attention_leads_to_its_row_and_counts_the_rest() {
        let take = |source: &str, said: &str| Needy { source: source.into(), said: said.into() };
        let needs = [Need {
            what: "split: not an octave apart: 9".into(),
            first: vec![take("a \"quoted\" & odd.wav", "+34 cents"), take("gone.wav", "")],
            more: 7,
        }];
        let page = super::page("reeds", &held_to(), &rows(), &needs, |_| None);
        let link = "<a href=\"#take-2\">a &quot;quoted&quot; &amp; odd.wav</a>: +34 cents";
        let title = NEED_ATTENTION;
        for part in [title, link, "<li>gone.wav</li>", &more(7)] {
            assert!(page.contains(part), "{part}");
        }
        assert!(!super::page("reeds", &held_to(), &rows(), &[], |_| None).contains(title));
    }

    /// One crow's own interval is a tenth of a cent; three crows 3 cents apart tell less than that.
    #[test]
    fn pitch_is_known_as_well_as_the_crows_agree() {
        let PageRow { outcome: Ok(figures), .. } = row("a.wav", Kind::Octaves, -38.0, None) else {
            panic!()
        };
        let usual = Profile::default().advice.usual_spread_cents;
        let known = figures.known_cents(usual).unwrap();
        // Two crows at ±3 about the middle, the usual scatter as a third: by hand, with Student's
        // t(0.975, 2) = 4.303.
        let variance = (usual * usual + 18.0) / 2.0;
        assert!((known - 4.303 * (variance / 2.0).sqrt()).abs() < 0.3 * known, "{known}");
        assert!(known > 5.0 * figures.ci95_cents.unwrap());
        let both = page("reeds", &held_to(), &rows());
        assert!(both.contains("−38.0 ±"), "{known}");
    }

    #[test]
    fn a_take_is_named_from_the_common_folder_on_and_its_whole_path_is_there() {
        let mut rows = vec![
            row("/home/mirek/reeds/a/1.wav", Kind::Octaves, -3.0, Some(1.0)),
            PageRow::failed("/home/mirek/reeds/b/2.wav", "is empty"),
        ];
        let whole = page("reeds", &held_to(), &rows);
        assert!(whole.contains(">a/1.wav</th>") && whole.contains(">b/2.wav</th>"));
        assert!(whole.contains("title=\"/home/mirek/reeds/a/1.wav\""));
        assert!(whole.contains("<title>a/1.wav: −3 cents"));
        let folder = "<span class=\"path\">/home/mirek/reeds/</span>";
        assert!(whole.contains(&format!("{} {folder}", words::NAMED_FROM)), "{whole}");
        rows.truncate(1);
        assert!(page("reeds", &held_to(), &rows).contains(">1.wav</th>"));
    }

    /// A peep has its upper octave alone: its bar has the colour and the place of that octave.
    #[test]
    fn an_octave_has_one_colour_and_place_whichever_is_the_lowest() {
        let mut peep = row("peep.wav", Kind::Single, 9.0, None);
        if let Ok(figures) = &mut peep.outcome {
            figures.rungs.remove(0);
        }
        let both = page("reeds", &held_to(), &[row("good.wav", Kind::Octaves, 0.0, Some(0.0))]);
        let alone = page("reeds", &held_to(), &[peep]);
        let bar = |page: &str, octave| {
            let (_, rest) = page.split_once(&format!("<rect class=\"rung{octave}\" "))?;
            rest.split(' ').next().map(str::to_owned)
        };
        assert_eq!(bar(&alone, 0), None);
        assert!(bar(&both, 0).is_some() && bar(&both, 0) != bar(&both, 1));
        assert_eq!(bar(&both, 1), bar(&alone, 1));
        assert_eq!(PageRung::octave(1040.0, Some(1041.0), Some(1), 0), 1);
        assert_eq!(PageRung::octave(2082.0, Some(520.0), None, 0), 2);
        assert_eq!(PageRung::octave(2082.0, None, None, 1), 1);
    }

    #[test]
    fn no_takes_and_no_figures_make_a_page_too() {
        let empty = page("reeds", &held_to(), &[]);
        assert!(empty.contains(words::NO_PITCHES));
        let mut odd = row("odd.wav", Kind::Octaves, f64::NAN, Some(f64::INFINITY));
        if let Ok(figures) = &mut odd.outcome {
            figures.rungs[0].level_db = f64::NAN;
            figures.crow_cents = vec![Some(f64::NAN)];
        }
        let page = page("reeds", &held_to(), &[odd]);
        let charts = page.split("<table>").next().unwrap();
        assert!(!charts.contains("NaN"), "{charts}");
    }
}
