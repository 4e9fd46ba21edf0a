//! XMLBIF 0.3.
//!
//! ```xml
//! <BIF VERSION="0.3">
//! <NETWORK>
//! <NAME>cab</NAME>
//! <VARIABLE TYPE="nature"><NAME>cab</NAME><OUTCOME>blue</OUTCOME><OUTCOME>green</OUTCOME></VARIABLE>
//! <DEFINITION><FOR>cab</FOR><TABLE>0.15 0.85</TABLE></DEFINITION>
//! </NETWORK>
//! </BIF>
//! ```
//!
//! In a `TABLE` the states of the `FOR` variable turn fastest, then those of the last `GIVEN`. White space around a text
//! is not part of it unless it is written as a character reference. Entities that a document declares itself are not
//! expanded.
//!
//! # Source
//! Cozman, "The Interchange Format for Bayesian Networks", XMLBIF version 0.3, 1998.

mod events;
mod parser;
mod printer;

pub(super) use parser::parse;
pub(super) use printer::print;
