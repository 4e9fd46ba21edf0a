//! The reference of the language, drawn up from the functions as they are registered: their own doc comments, parameters and
//! types. There is no second list: `saggar reference`, `help` and completion in the console, and the test that runs every
//! example all read this one.

mod definitions;
mod examples;
mod function;
mod help;
mod markdown;
mod registered;
mod topics;
mod type_names;

pub use definitions::definitions;
pub use examples::SUPPOSED;
pub use function::{Call, Function, Topic};
pub use help::help;
pub use markdown::markdown;
pub use topics::topics;
