//! Damage that a decoder does not survive.
//!
//! Decoders of compressed sound are other people's code, and on damaged files some of them panic
//! (arithmetic that overflows on a length that lies, in builds that check it). Inside
//! [`guarded`] such a panic is an error like any other, and says nothing on standard error.

use std::cell::Cell;
use std::panic::{self, AssertUnwindSafe};
use std::sync::Once;

use crate::take::{TakeError, Undecodable};

thread_local! {
    static GUARDED: Cell<bool> = const { Cell::new(false) };
}

static QUIET: Once = Once::new();

/// Calls `decode`; a panic in it becomes an error. What `decode` changed must not be used after
/// that.
pub fn guarded<T>(decode: impl FnOnce() -> Result<T, TakeError>) -> Result<T, TakeError> {
    QUIET.call_once(|| {
        let report = panic::take_hook();
        panic::set_hook(Box::new(move |panic| {
            if !GUARDED.get() {
                report(panic);
            }
        }));
    });
    let before = GUARDED.replace(true);
    let result = panic::catch_unwind(AssertUnwindSafe(decode));
    GUARDED.set(before);
    result.unwrap_or_else(|_| Err(TakeError::Decode(Undecodable::Damaged)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_panic_is_an_error_and_other_results_pass() {
        let numbers = [1, 2, 3];
        let index = std::hint::black_box(7);
        let error = guarded(|| Ok(numbers[index])).unwrap_err();
        assert!(matches!(error, TakeError::Decode(_)));
        assert_eq!(guarded(|| Ok(numbers[0])).unwrap(), 1);
    }
}
