//! The BIF text format.
//!
//! ```text
//! network NAME { property TEXT; }
//! variable NAME { type discrete [ 2 ] { STATE, STATE }; property TEXT; }
//! probability ( CHILD | PARENT, PARENT ) { (STATE, STATE) 0.1, 0.9; default 0.5, 0.5; }
//! probability ( CHILD | PARENT ) { table 0.1, 0.2, 0.9, 0.8; property TEXT; }
//! ```
//!
//! In a `table` the states of the child turn slowest and the last parent fastest. Commas count as white space, and so
//! does the `|`, as the format says; comments are `//` and `/* */`. Names may hold anything but white space, separators
//! and the bracket that would end the list (brackets that open and close within a name do not); in double quotes they
//! may hold anything. Inside quotes `\"` is a quote and `\\` a backslash.
//!
//! # Source
//! Cozman, "The Interchange Format for Bayesian Networks", version 0.15, 1998. The order of a table is that of its
//! example, Charniak's dog problem ("Bayesian networks without tears", AI Magazine 12(4), 1991): P(light on | family out)
//! = 0.6, 0.05 stands as `table 0.6 0.05 0.4 0.95`.

mod cursor;
mod parser;
mod printer;
mod statements;
mod tables;

pub(super) use parser::parse;
pub(super) use printer::print;
