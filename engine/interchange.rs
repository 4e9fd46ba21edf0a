//! Bayesian networks in the open interchange formats of the field: BIF text and XMLBIF 0.3.
//!
//! ```text
//! file ──bif, xmlbif──► draft: words and numbers as written, with their places ──assemble──► PublicNetwork
//! ```
//!
//! Reading and writing lose nothing: names, the order of variables, states and parents, every number to the last bit
//! and every property come back as they were. Comments are not kept. One thing is changed, and said: a distribution
//! that sums to 1 within [`SUM_TOLERANCE`] but not within [`ROUNDING`] is divided by its sum.
//!
//! The formats hold discrete chance variables only. Decisions and utilities are refused on reading, inputs and measures
//! on writing.
//!
//! ```
//! use saggar::interchange::{Format, parse, print};
//! use saggar::source::Sources;
//!
//! let mut sources = Sources::default();
//! let source = sources.add("cab.bif", "
//!     network cab { property town = Bristol; }
//!     variable cab { type discrete [ 2 ] { blue, green }; }
//!     variable witness { type discrete [ 2 ] { blue, green }; }
//!     probability ( cab ) { table 0.15, 0.85; }
//!     probability ( witness | cab ) { (blue) 0.8, 0.2; (green) 0.2, 0.8; }
//! ");
//! let cab = parse(source, &sources, Format::Bif).map_err(|_| "defects")?;
//! assert_eq!(cab.network.variables()[1].states, ["blue", "green"]);
//! let as_xml = sources.add("cab.xmlbif", print(&cab, Format::XmlBif)?);
//! assert_eq!(parse(as_xml, &sources, Format::XmlBif).map_err(|_| "defects")?, cab);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod answer;
mod assemble;
mod bif;
mod draft;
mod file;
mod given;
mod xmlbif;

use thiserror::Error;

use crate::diagnostic::Diagnostic;
use crate::network::{Network, NetworkError, Role};
use crate::source::{SourceError, SourceId, Sources};

pub use answer::{Answer, answer};
pub use file::{read, write};
pub use given::{Given, GivenError, GivenSet, parse_given, split_given};

/// The largest network file that is read, in bytes. The largest public networks have about 5 MB.
pub const LARGEST_NETWORK_FILE: u64 = 32 * 1024 * 1024;

/// Cells that the tables of one file may have together (an eighth of a gibibyte). The largest public networks have half a
/// million.
pub const MAX_CELLS: usize = 1 << 24;

/// States that the variables of one file may have together.
pub const MAX_STATES: usize = 1 << 20;

/// How far the sum of a distribution may lie from 1 by rounding alone, so that it is left as it is.
///
/// Finer than [`ROW_SUM_TOLERANCE`](crate::network::ROW_SUM_TOLERANCE): a row off by 1e-10 is a valid distribution, but
/// posteriors then depend in the tenth digit on which barren variables an algorithm leaves out. So it is divided too.
pub const ROUNDING: f64 = 1e-12;

/// How far the sum of a distribution may lie from 1 for it to be divided by its sum. Public files print six or seven
/// digits.
pub const SUM_TOLERANCE: f64 = 1e-6;

/// Errors after which the rest of a file is not looked at.
pub const MAX_DEFECTS: usize = 100;

/// A file format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Format {
    /// The text format, usually `.bif`.
    ///
    /// # Source
    /// Cozman, "The Interchange Format for Bayesian Networks", version 0.15, 1998.
    Bif,
    /// The XML format, usually `.xmlbif`, `.bifxml` or `.xml`.
    ///
    /// # Source
    /// Cozman, "The Interchange Format for Bayesian Networks", XMLBIF version 0.3, 1998.
    XmlBif,
}

/// A network with what the interchange formats say beyond variables and tables.
///
/// Two are equal if all but their warnings is.
#[derive(Clone, Debug)]
pub struct PublicNetwork {
    /// Name of the network; may be empty.
    pub name: String,
    /// Variables and tables, in the order of the file's variables.
    pub network: Network,
    /// Properties of the network as a whole, in their order. A property is free text.
    pub properties: Vec<String>,
    /// Properties of each variable.
    pub variable_properties: Vec<Vec<String>>,
    /// Properties of each variable's table.
    pub table_properties: Vec<Vec<String>>,
    /// What was changed or skipped on reading.
    pub warnings: Vec<Diagnostic>,
}

impl PartialEq for PublicNetwork {
    fn eq(&self, other: &Self) -> bool {
        self.name == other.name
            && self.network == other.network
            && self.properties == other.properties
            && self.variable_properties == other.variable_properties
            && self.table_properties == other.table_properties
    }
}

impl PublicNetwork {
    /// A network with a name and no properties.
    ///
    /// # Errors
    /// [`WriteError::NotAChance`] if the network has an input or a measure, which the formats cannot hold.
    pub fn new(name: impl Into<String>, network: Network) -> Result<Self, WriteError> {
        let n = network.variables().len();
        let public = Self {
            name: name.into(),
            network,
            properties: Vec::new(),
            variable_properties: vec![Vec::new(); n],
            table_properties: vec![Vec::new(); n],
            warnings: Vec::new(),
        };
        public.check_chances()?;
        Ok(public)
    }

    fn check_chances(&self) -> Result<(), WriteError> {
        let inputs = self.network.variables().iter();
        let inputs = inputs.filter(|v| v.role == Role::Input).map(|v| &v.name);
        let mut others = inputs.chain(self.network.measures().iter().map(|m| &m.name));
        match others.next() {
            Some(name) => Err(WriteError::NotAChance { name: name.clone() }),
            None => Ok(()),
        }
    }
}

/// Reads a text that is already among the sources.
///
/// # Errors
/// Every defect that can be told apart from its consequences, at most [`MAX_DEFECTS`], in the order of the text.
/// Among them: a network larger than [`MAX_CELLS`] or [`MAX_STATES`], with its size; nothing of that size is made.
pub fn parse(
    source: SourceId,
    sources: &Sources,
    format: Format,
) -> Result<PublicNetwork, Vec<Diagnostic>> {
    let text = sources.file(source).text.as_str();
    let mut defects = draft::Defects::new(source);
    let draft = match format {
        _ if text.len() as u64 > LARGEST_NETWORK_FILE => {
            defects.error(
                "network::too-large",
                format!(
                    "the text has {} bytes; at most {LARGEST_NETWORK_FILE} are read",
                    text.len()
                ),
                0..0,
            );
            draft::Draft::default()
        }
        Format::Bif => bif::parse(text, &mut defects),
        Format::XmlBif => xmlbif::parse(text, &mut defects),
    };
    assemble::assemble(draft, defects)
}

/// The network as text. Parsing it gives an equal network.
///
/// # Errors
/// [`WriteError`] if it has an input or a measure, or a text that the format cannot hold.
pub fn print(network: &PublicNetwork, format: Format) -> Result<String, WriteError> {
    network.check_chances()?;
    match format {
        Format::Bif => bif::print(network),
        Format::XmlBif => xmlbif::print(network),
    }
}

/// Why a network file could not be read.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum ReadError {
    /// Neither the ending nor the beginning of the file tells its format.
    #[error("`{path}` is neither BIF nor XMLBIF: its name should end in .bif, .xmlbif or .bifxml")]
    UnknownFormat {
        /// The file.
        path: String,
    },
    /// The file cannot be taken in.
    #[error(transparent)]
    Source(#[from] SourceError),
    /// The text has defects.
    #[error("the network file has {} defects", .0.len())]
    Defects(Vec<Diagnostic>),
}

/// Why a network could not be written.
#[derive(Debug, Error)]
#[non_exhaustive]
pub enum WriteError {
    /// An input or a measure.
    #[error("`{name}` is no chance variable; the interchange formats hold nothing else")]
    NotAChance {
        /// Name of the input or measure.
        name: String,
    },
    /// A name with a character that the format cannot hold.
    #[error("the name {name:?} has a control character, which the format cannot hold")]
    ControlCharacter {
        /// The name or property.
        name: String,
    },
    /// The ending of the name does not tell the format.
    #[error("`{path}` should end in .bif, .xmlbif or .bifxml to tell the format")]
    UnknownFormat {
        /// The file.
        path: String,
    },
    /// The file cannot be written.
    #[error("cannot write `{path}`: {cause}")]
    Unwritable {
        /// The file.
        path: String,
        /// What the system said.
        cause: std::io::Error,
    },
}

/// A defect of the whole that [`Network::new`] finds once every part is right: only a circle is left by then.
fn circle(error: &NetworkError) -> Option<&[String]> {
    match error {
        NetworkError::Cycle { cycle } => Some(cycle),
        _ => None,
    }
}
