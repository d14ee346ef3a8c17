//! The page of the bench as it is served: hostile requests, the end of the program at any moment, and a
//! whole mending in a real browser.

mod browser;
#[path = "../commands/golden.rs"]
mod golden;
mod hostile;
mod killed;
mod log;
#[path = "../commands/markup.rs"]
mod markup;
#[path = "../recordings/mutation.rs"]
mod mutation;
mod quick;
mod served;
mod soak;
mod stream;
