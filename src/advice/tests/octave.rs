//! Which octave, and which note.

use super::*;
use crate::profile::load;

fn at(hz: f64) -> Given {
    let mut figures = easy();
    figures.fundamental.register = None;
    figures.fundamental.hz = Some(hz);
    let mut case = given(Kind::Octaves, 0.0, figures.clone());
    case.reading = reading(Kind::Octaves, None, 3, figures);
    case
}

/// Any plain tone has its own second partial: without a target the profile's note tells a peep from
/// a crow.
#[test]
fn without_a_target_a_peep_is_told_by_the_profile_s_note() {
    for (name, low_hz, peep_hz, note) in
        [("european-oboe", 523.25, 1046.5, "F#5"), ("bassoon", 350.0, 700.0, "C#5")]
    {
        let low = at(low_hz).held_to(name);
        assert_eq!(low.advice().next, Move::Leave, "{name}");
        let peep = at(peep_hz).held_to(name);
        assert_eq!((peep.rule(), peep.advice().next), ("peep", Move::Tip), "{name}");
        let said = format!("above {note} it is the upper octave alone; the low octave is missing");
        assert!(peep.says().contains(&said), "{}", peep.says());
    }
    // Beside that note it may be either.
    for hz in [700.0, 780.0] {
        assert_eq!(at(hz).held_to("european-oboe").advice().next, Move::Recrow, "{hz}");
    }
}

#[test]
fn where_nothing_tells_the_octave_it_is_less_sure_and_said() {
    let told = load("european-oboe").unwrap();
    let untold = Profile { peep_above: None, ..told.clone() };
    let of = |profile: &Profile| {
        let (measured, seen) = (Measurements::default(), Inspection::default());
        advise(&at(523.25).reading, &measured, &seen, profile, &Effects::default())
    };
    assert_eq!((of(&told).next, of(&untold).next), (Move::Leave, Move::Leave));
    assert!(of(&untold).confidence < of(&told).confidence - 0.05);
    let says = |advice: &Advice| {
        advice.because.iter().any(|reason| reason.says.starts_with("nothing tells which octave"))
    };
    assert!(says(&of(&untold)) && !says(&of(&told)));
}

/// carolynhovemusic.com, of English horn: an octave C or, by length and thickness, an octave B. A
/// crow on B is no flat C to everybody.
#[test]
fn a_crow_on_a_note_that_other_makers_hold_it_to_is_not_cut() {
    let eh = |cents: f64| given(Kind::Octaves, cents, easy()).held_to("english-horn");
    assert_eq!(eh(-98.0).advice().next, Move::Leave);
    assert!(eh(-98.0).says().contains("by B4, which some makers hold it to, it is in tune"));
    for cents in [-40.0, -50.0, -60.0, -26.0, -74.0] {
        assert_eq!(eh(cents).advice().next, Move::Recrow, "{cents}");
    }
    assert!(eh(-60.0).says().contains("by B4, which some makers hold it to, it is 40 cents sharp"));
    assert_eq!((eh(-170.0).advice().next, eh(60.0).advice().next), (Move::Clip, Move::Tip));
    // Of the oboe d'amore: B, and C for some makers.
    let damore = |cents: f64| given(Kind::Octaves, cents, easy()).held_to("oboe-damore").advice();
    assert_eq!((damore(100.0).next, damore(50.0).next), (Move::Leave, Move::Recrow));
    // A profile that names no other note is as it was.
    assert_eq!(given(Kind::Octaves, -98.0, easy()).advice().next, Move::Clip);
}
