//! How a crow sounds, judged on its rungs.

use super::Kind;
use crate::profile::Profile;

/// What of a rung counts for the kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Standing {
    /// Octaves above the target; `None` without a target.
    pub register: Option<i32>,
    /// Whether it is sustained.
    pub sustained: bool,
}

/// The kind of a crow that sounds.
///
/// * `rungs`: those that sound, lowest first.
/// * `locked`: whether the lowest sustained rung and the next stand at 2:1.
///
/// Rungs above the profile's highest register do not count (without a target: above the two
/// lowest). A crow that only sounds up there still holds one tone.
pub fn judge(rungs: &[Standing], profile: &Profile, locked: bool) -> Kind {
    let counts = |(index, rung): &(usize, &Standing)| match rung.register {
        Some(register) => register <= profile.highest_register(),
        None => *index < 2,
    };
    let sustained =
        rungs.iter().enumerate().filter(counts).filter(|(_, rung)| rung.sustained).count();
    match sustained {
        2.. if locked => Kind::Octaves,
        2.. => Kind::Split,
        1 => Kind::Single,
        _ if rungs.iter().any(|rung| rung.sustained) => Kind::Single,
        _ => Kind::Unsettled,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rung(register: i32, sustained: bool) -> Standing {
        Standing { register: Some(register), sustained }
    }

    #[test]
    fn kinds_follow_the_sustained_rungs_of_the_expected_registers() {
        let profile = Profile::default();
        let both = [rung(0, true), rung(1, true), rung(2, true)];
        assert_eq!(judge(&both, &profile, true), Kind::Octaves);
        assert_eq!(judge(&both, &profile, false), Kind::Split);
        assert_eq!(judge(&[rung(1, true), rung(2, true)], &profile, true), Kind::Single);
        assert_eq!(judge(&[rung(0, false), rung(1, true)], &profile, true), Kind::Single);
        assert_eq!(judge(&[rung(2, true)], &profile, true), Kind::Single);
        assert_eq!(judge(&[rung(0, false)], &profile, true), Kind::Unsettled);
        assert_eq!(judge(&[], &profile, true), Kind::Unsettled);
    }
}
