//! Saggar
pub mod audit;
pub mod check;
pub mod circuit;
pub mod contrast;
pub mod diagnostic;
pub mod model;
pub mod nearest_name;
pub mod network;
pub mod pack;
pub mod piece;
pub mod query;
pub mod report;
pub mod script;
pub mod source;
pub mod stress;
pub mod units;
pub mod verdict;
