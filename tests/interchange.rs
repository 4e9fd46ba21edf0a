//! Network files from outside: what is read, what is refused and how it is said, and that nothing is lost.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

use nalgebra::DMatrix;
use proptest::prelude::*;
use saggar::circuit::Circuit;
use saggar::diagnostic::{Diagnostic, render::render};
use saggar::interchange::{Format, PublicNetwork, WriteError, parse, print};
use saggar::network::{Cpt, Evidence, Measure, Network, Role, Variable, VariableId};
use saggar::source::Sources;

fn parsed(text: &str, format: Format) -> Result<PublicNetwork, Vec<Diagnostic>> {
    let mut sources = Sources::default();
    let source = sources.add("net", text);
    parse(source, &sources, format)
}

fn bif(text: &str) -> PublicNetwork {
    parsed(text, Format::Bif).unwrap()
}

fn xml(text: &str) -> PublicNetwork {
    parsed(text, Format::XmlBif).unwrap()
}

/// The first line of each diagnostic with its place: `code line:column message`.
fn defects(text: &str, format: Format) -> Vec<String> {
    let mut sources = Sources::default();
    let source = sources.add("net", text);
    let found = match parse(source, &sources, format) {
        Ok(network) => network.warnings,
        Err(found) => found,
    };
    let line = |d: &Diagnostic| {
        let place = sources.line_column(d.place.span);
        format!("{} {}:{} {}", d.code, place.line, place.column, d.message)
    };
    found.iter().map(line).collect()
}

fn rendered(text: &str, format: Format) -> String {
    let mut sources = Sources::default();
    let source = sources.add("net", text);
    let found = match parse(source, &sources, format) {
        Ok(network) => network.warnings,
        Err(found) => found,
    };
    let texts: Vec<String> = found.iter().map(|d| render(d, &sources, false)).collect();
    texts.join("\n\n")
}

fn table(network: &PublicNetwork, name: &str) -> Vec<f64> {
    let id = network.network.find(name).unwrap();
    network.network.cpt(id).table.as_slice().to_vec()
}

/// Source: Charniak, "Bayesian networks without tears", AI Magazine 12(4), 1991, figure 2, in the layout in which the
/// text format was published: quoted names, no bar, no commas, tables with the child slowest.
const DOG: &str = r#"// Bayesian network in the Interchange Format
network "Dog-Problem" { //5 variables
  property "credal-set constant-density-bounded 1.1" ;
}
variable  "light-on" { //2 values
  type discrete[2] {  "true"  "false" };
  property "position = (218, 195)" ;
}
variable  "bowel-problem" { type discrete[2] { "true" "false" }; }
variable  "dog-out" { type discrete[2] {  "true"  "false" }; }
variable  "hear-bark" { type discrete[2] {  "true"  "false" }; }
variable  "family-out" { type discrete[2] {  "true"  "false" }; }
/* the tables */
probability (  "light-on"  "family-out" ) { table 0.6 0.05 0.4 0.95 ; }
probability (  "bowel-problem" ) { table 0.01 0.99 ; }
probability (  "dog-out"  "bowel-problem"  "family-out" ) {
  table 0.99 0.97 0.9 0.3 0.01 0.03 0.1 0.7 ;
}
probability (  "hear-bark"  "dog-out" ) { table 0.7 0.01 0.3 0.99 ; }
probability (  "family-out" ) { table 0.15 0.85 ; property note; }
"#;

#[test]
fn the_published_layout_is_read() {
    let dog = bif(DOG);
    assert!(dog.warnings.is_empty());
    assert_eq!(dog.name, "Dog-Problem");
    assert_eq!(dog.properties, ["credal-set constant-density-bounded 1.1"]);
    assert_eq!(dog.variable_properties[0], ["position = (218, 195)"]);
    assert_eq!(dog.table_properties[4], ["note"]);
    assert_eq!(table(&dog, "light-on"), [0.6, 0.4, 0.05, 0.95]);
    // P(dog out | bowel problem, family out), then with the family in, and so on.
    let expected = [0.99, 0.01, 0.97, 0.03, 0.9, 0.1, 0.3, 0.7];
    assert_eq!(table(&dog, "dog-out"), expected);
    let parents = |name: &str| {
        let id = dog.network.find(name).unwrap();
        let names = dog.network.parents(id).iter();
        names
            .map(|&p| dog.network.variable(p).name.clone())
            .collect::<Vec<_>>()
    };
    assert_eq!(parents("dog-out"), ["bowel-problem", "family-out"]);
}

/// Source: the form of the XMLBIF 0.3 example (Cozman 1998), written down from memory; a table has its `FOR` variable
/// fastest, as another program's own XMLBIF output has it too.
#[test]
fn xmlbif_is_read() {
    let text = r#"<?xml version="1.0"?>
<!-- DTD for the XMLBIF 0.3 format -->
<!DOCTYPE BIF [
  <!ELEMENT BIF ( NETWORK )*>
  <!ATTLIST BIF VERSION CDATA #REQUIRED>
  <!ELEMENT VARIABLE ( NAME, ( OUTCOME |  PROPERTY )* ) >
]>
<BIF VERSION="0.3">
<NETWORK>
<NAME>Dog&#45;Problem</NAME>
<PROPERTY> a &lt; b &amp; c </PROPERTY>
<VARIABLE TYPE="nature">
  <NAME>light-on</NAME><OUTCOME>true</OUTCOME><OUTCOME><![CDATA[<false>]]></OUTCOME>
  <PROPERTY>position = (73, 165)</PROPERTY>
</VARIABLE>
<VARIABLE><NAME> family-out </NAME><OUTCOME>true</OUTCOME><OUTCOME>false</OUTCOME></VARIABLE>
<!-- tables -->
<DEFINITION>
  <FOR>light-on</FOR>
  <GIVEN>family-out</GIVEN>
  <TABLE>0.6 0.4 <!-- family out --> 0.05 0.95</TABLE>
</DEFINITION>
<DEFINITION><FOR>family-out</FOR><TABLE>1.5e-1 .85</TABLE></DEFINITION>
</NETWORK>
</BIF>
"#;
    let dog = xml(text);
    assert_eq!(dog.warnings, []);
    assert_eq!(dog.name, "Dog-Problem");
    assert_eq!(dog.properties, ["a < b & c"]);
    assert_eq!(dog.network.variables()[0].states, ["true", "<false>"]);
    assert_eq!(dog.network.variables()[1].name, "family-out");
    assert_eq!(table(&dog, "light-on"), [0.6, 0.4, 0.05, 0.95]);
    assert_eq!(table(&dog, "family-out"), [0.15, 0.85]);
}

#[test]
fn labels_may_hold_nearly_anything() {
    let text = r#"
network 50%/a-b+c {}
variable <7.5 { type discrete [ 7 ] { Asy/Patch, >=7.5, 5-12%, a(1), (5-10], "a, b", "say \"x\" \\ c:\d" }; }
variable y { type discrete [ 2 ] { on/off, Transp. }; }
probability ( <7.5 ) { table 0.98, 0.02, 0, 0, 0, 0, 0; }
probability ( y | <7.5 ) {
  (Asy/Patch) 0.98, 0.02; (>=7.5) 0.25, 0.75; (a(1)) 1, 0; ((5-10]) 0, 1; ("a, b") .5 .5;
  ("say \"x\" \\ c:\d") 1.0, 0.0;
  default 5e-1, 5E-1;
}
"#;
    let network = bif(text);
    let states = &network.network.variables()[0].states;
    let expected = [
        "Asy/Patch",
        ">=7.5",
        "5-12%",
        "a(1)",
        "(5-10]",
        "a, b",
        "say \"x\" \\ c:\\d",
    ];
    assert_eq!(states, &expected);
    // Read in single precision, 0.98 would be 0.9800000190734863.
    assert_eq!(table(&network, "<7.5")[0], 0.98);
    assert_eq!(table(&network, "y")[4..6], [0.5, 0.5]);
    assert_round_trips(&network);
}

#[test]
fn sums_that_printing_rounded_are_mended_with_a_warning() {
    let of = |a: &str, b: &str| {
        format!(
            "network n {{}}\nvariable x {{ type discrete [ 2 ] {{ a, b }}; }}\nprobability ( x ) {{ table {a}, {b}; }}\n"
        )
    };
    let exact = bif(&of("0.1", "0.9"));
    assert_eq!(exact.warnings, []);
    let off = bif(&of("0.1999999", "0.8"));
    let sum = 0.1999999 + 0.8;
    assert_eq!(table(&off, "x"), [0.1999999 / sum, 0.8 / sum]);
    assert_eq!(off.warnings.len(), 1);
    insta::assert_snapshot!(rendered(&of("0.1999999", "0.8"), Format::Bif), @r"
    warning[network::row-sum]: a distribution of `x` sums to 0.9999999; it was divided by its sum
     --> net:3:27
      |
    3 | probability ( x ) { table 0.1999999, 0.8; }
      |                           ^^^^^^^^^^^^^^
    ");
    insta::assert_snapshot!(rendered(&of("0.19999", "0.8"), Format::Bif), @r"
    error[network::row-sum]: the probabilities of `x` sum to 0.99999
     --> net:3:27
      |
    3 | probability ( x ) { table 0.19999, 0.8; }
      |                           ^^^^^^^^^^^^ 1e-5 missing
      |
      = hint: they must sum to 1 within 0.000001
    ");
    assert!(parsed(&of("0.2000011", "0.8"), Format::Bif).is_err());
    assert!(parsed(&of("0.2000009", "0.8"), Format::Bif).is_ok());
}

/// P(e) = 1e-399, which is 0 as an `f64`: its logarithm is not.
#[test]
fn a_probability_below_the_range_of_numbers_has_a_logarithm() {
    let mut text = String::from("network tiny {}\n");
    for i in 0..133 {
        text += &format!(
            "variable x{i} {{ type discrete [ 2 ] {{ a, b }}; }}\nprobability ( x{i} ) {{ table 0.001, 0.999; }}\n"
        );
    }
    let network = bif(&text).network;
    let mut evidence = Evidence::new();
    for id in network.variable_ids() {
        evidence.observe(id, 0);
    }
    let circuit = Circuit::compile(&network).unwrap();
    let found = circuit
        .log_evidence(&network.parameters(), &evidence)
        .unwrap();
    let expected = -399.0 * 10_f64.ln();
    assert!((found - expected).abs() < 1e-10 * expected.abs(), "{found}");
}

#[test]
fn every_defect_is_told_in_one_run() {
    let text = "network n {}
variable a { type discrete [ 3 ] { x, y }; }
variable a { type discrete [ 2 ] { x, x }; }
variable b { type continuous; }
variable c { type discrete [ 2 ] { yes, no } }
variable d { type discrete [ 2 ] { yes, no }; }
variabel e { type discrete [ 2 ] { yes, no }; }
probability ( c | dd ) { (yes) 0.5, 0.5; (no) 0.5, 0.5; }
probability ( d | c ) { (yes) 0.5, 0,5; (yse) 0.1, 0.9; (no) 1.2, -0.2; }
probability ( d ) { table 0.5, 0.5; }
";
    insta::assert_snapshot!(defects(text, Format::Bif).join("\n"));
}

#[test]
fn defects_of_bif_are_underlined() {
    let broken = [
        "variable a { type discrete [ 2 ] { x, y }; }\nprobability ( a ) { table 0.5, 0.5 }\n",
        "variable a { type discrete [ 2 ] { x, y }; }\nprobability ( a { table 0.5, 0.5; }\n",
        "variable a { type discrete [ 2 ] { \"x, y }; }\nprobability ( a ) { table 0.5, 0.5; }\n",
        "variable a { type discrete [ 2 ] { x, y };\nvariable b { type discrete [ 2 ] { x, y }; }\nprobability ( a ) { table 0.5, 0.5; }\nprobability ( b ) { table 0.5, O.5; }\n",
        "variable a { type discrete [ 2 ] { x, y }; }\nvariable b { type discrete [ 2 ] { x, y }; }\nprobability ( a, b | c ) { table 0.5, 0.5; }\n",
        "variable a { type discrete [ 2 ] { x, y }; }\nvariable b { type discrete [ 3 ] { x, y, z }; }\nprobability ( a ) { table 0.25, 0.75; }\nprobability ( b | a ) { table 0.1, 0.2, 0.7, 0.3, 0.3, 0.4; }\n",
        "variable a { type discrete [ 2 ] { x, y }; }\nvariable b { type discrete [ 2 ] { x, y }; }\nprobability ( a | b ) { (x) 0.5, 0.5; (y) 0.5, 0.5; }\nprobability ( b | a ) { (x) 0.5, 0.5; (x) 0.5, 0.5; }\n",
        "variable a { type discrete [ 2 ] { x, y }; }\nvariable b { type discrete [ 2 ] { x, y }; }\nprobability ( a | b ) { (x) 0.5, 0.5; (y) 0.5, 0.5; }\nprobability ( b | a ) { default 0.5, 0.5; }\n",
        "/* network",
    ];
    let all: Vec<String> = broken.map(|text| rendered(text, Format::Bif)).to_vec();
    insta::assert_snapshot!(all.join("\n\n"));
}

#[test]
fn defects_of_xmlbif_are_underlined() {
    let around = |inside: &str| {
        format!("<BIF VERSION=\"0.3\">\n<NETWORK>\n<NAME>n</NAME>\n{inside}\n</NETWORK>\n</BIF>\n")
    };
    let a = "<VARIABLE TYPE=\"nature\"><NAME>a</NAME><OUTCOME>x</OUTCOME><OUTCOME>y</OUTCOME></VARIABLE>\n";
    let broken = [
        around(&format!(
            "{a}<DEFINITION><FOR>a</FOR><TABLE>0.5 0,5</TABLE></DEFINITION>"
        )),
        around(&format!(
            "{a}<DEFINITION><FOR>a</FOR><TABLE>0.5</TABLE></DEFINITION>"
        )),
        around(&format!(
            "{a}<DEFINITION><FOR>a</FOR><GIVEN>b</GIVEN></DEFINITION>"
        )),
        around(
            "<VARIABLE TYPE=\"decision\"><NAME>a</NAME><OUTCOME>x</OUTCOME></VARIABLE>\n<DEFINITION><FOR>a</FOR><TABLE>1</TABLE></DEFINITION>",
        ),
        around(
            "<VARIABEL><NAME>a</NAME></VARIABEL>\n<LAYOUT>x</LAYOUT>\n<VARIABLE><OUTCOME/></VARIABLE>",
        ),
        around(&format!(
            "{a}<DEFINITION><FOR>a</FOR><TABLE>0.5 &half;</TABLE></DEFINITION>"
        )),
        "<BIF>\n<NETWORK>\n<NAME>n</BIF>\n".to_owned(),
        "<BIF>\n<NETWORK>\n".to_owned(),
        "<GRAPH/>\n".to_owned(),
    ];
    let all: Vec<String> = broken
        .iter()
        .map(|text| rendered(text, Format::XmlBif))
        .collect();
    insta::assert_snapshot!(all.join("\n\n"));
}

/// `/*/` opens a comment and does not close it.
#[test]
fn comments_end_where_they_say() {
    let text = "network n { } /*/ variable x { */ // variable y {\n/**/variable a/* */{ type discrete [ 1 ] { s/t }; }\nprobability ( a ) { table 1; }";
    let network = bif(text);
    assert_eq!(network.warnings, []);
    assert_eq!(network.network.variables()[0].states, ["s/t"]);
}

/// A short file can promise more than any memory holds. Nothing of that size is made: the sizes are only told.
#[test]
fn promises_are_not_kept() {
    let promised = "variable a { type discrete [ 1000000000000 ] { x, y }; }\nprobability ( a ) { table 0.5, 0.5; }\n";
    assert_eq!(
        defects(promised, Format::Bif),
        ["network::state-count 1:30 `a` should have 1000000000000 states but names 2"]
    );
    let mut wide = String::new();
    for i in 0..50 {
        wide += &format!(
            "variable x{i} {{ type discrete [ 2 ] {{ a, b }}; }}\nprobability ( x{i} ) {{ table 0.5, 0.5; }}\n"
        );
    }
    let names: Vec<String> = (0..50).map(|i| format!("x{i}")).collect();
    wide += &format!(
        "variable y {{ type discrete [ 2 ] {{ a, b }}; }}\nprobability ( y | {} ) {{ default 0.5, 0.5; }}\n",
        names.join(", ")
    );
    let found = defects(&wide, Format::Bif);
    assert_eq!(
        found,
        ["network::too-large 102:15 the table of `y` has 2251799813685248 cells"]
    );
    // Many tables that would each be allowed.
    let mut many = String::new();
    for i in 0..23 {
        many += &format!(
            "variable x{i} {{ type discrete [ 2 ] {{ a, b }}; }}\nprobability ( x{i} ) {{ table 0.5, 0.5; }}\n"
        );
    }
    let parents = names[..23].join(", ");
    for i in 0..3 {
        many += &format!(
            "variable y{i} {{ type discrete [ 2 ] {{ a, b }}; }}\nprobability ( y{i} | {parents} ) {{ (x) 1, 0; }}\n"
        );
    }
    let found = defects(&many, Format::Bif);
    assert!(
        found
            .iter()
            .any(|d| d.contains("the table of `y1` has 16777216 cells")),
        "{found:?}"
    );
    // An XML bomb is not expanded.
    let bomb = "<!DOCTYPE BIF [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;&a;\">]>\n<BIF><NETWORK><NAME>&b;</NAME></NETWORK></BIF>";
    assert_eq!(
        defects(bomb, Format::XmlBif),
        ["network::xml 2:21 `&b;` stands for no character"]
    );
}

#[test]
fn a_file_full_of_defects_ends_the_list() {
    let text = "variable a { type discrete [ 0 ] { }; }\n".repeat(10_000);
    let found = defects(&text, Format::Bif);
    assert_eq!(found.len(), 101);
    assert!(found[100].contains("100 defects found"), "{}", found[100]);
    let stray = "what is this?\nnetwork {}\n".repeat(3_000);
    assert!(defects(&stray, Format::Bif).len() <= 302);
}

#[test]
fn inputs_and_measures_are_not_written() {
    let variable = |role| Variable {
        name: "search".to_owned(),
        states: vec!["full".to_owned()],
        role,
    };
    let cpts = || vec![Cpt::of_input(1)];
    let input = Network::new(vec![variable(Role::Input)], cpts(), Vec::new()).unwrap();
    let refused = PublicNetwork::new("n", input).unwrap_err();
    assert!(matches!(refused, WriteError::NotAChance { name } if name == "search"));
    let measure = Measure {
        name: "weight".to_owned(),
        parents: vec![VariableId::new(0)],
    };
    let measured = Network::new(vec![variable(Role::Chance)], cpts(), vec![measure]).unwrap();
    let refused = PublicNetwork::new("n", measured).unwrap_err();
    assert!(matches!(refused, WriteError::NotAChance { name } if name == "weight"));
    let mut control = variable(Role::Chance);
    control.states[0] = "a\nb".to_owned();
    let control = Network::new(vec![control], cpts(), Vec::new()).unwrap();
    let control = PublicNetwork::new("n", control).unwrap();
    for format in [Format::Bif, Format::XmlBif] {
        assert!(matches!(
            print(&control, format),
            Err(WriteError::ControlCharacter { .. })
        ));
    }
}

fn assert_round_trips(network: &PublicNetwork) {
    for format in [Format::Bif, Format::XmlBif] {
        let text = print(network, format).unwrap();
        let again = parsed(&text, format).unwrap_or_else(|d| panic!("{d:#?}\n{text}"));
        assert_eq!(&again, network, "{text}");
        assert_eq!(again.warnings, [], "{text}");
        assert_eq!(print(&again, format).unwrap(), text);
    }
}

/// Names with everything that either format treats specially.
fn name() -> impl Strategy<Value = String> {
    prop_oneof![
        "[a-z]{1,6}",
        "[-a-z0-9_/<>=.+%()\\[\\]{},;|\"\\\\ &'#*!:é\u{a0}]{1,8}",
        Just("table".to_owned()),
        Just("//".to_owned()),
        Just("]]>".to_owned()),
        Just(" a ".to_owned()),
    ]
}

fn property() -> impl Strategy<Value = String> {
    prop_oneof![
        "[ -~]{0,12}",
        "[a-z;\"\\\\{}/*\n\t\r<>& ]{0,10}",
        Just(String::new()),
    ]
}

/// Small networks with any names, any parents among earlier variables, and probabilities of all sizes.
fn any_network() -> impl Strategy<Value = PublicNetwork> {
    let variable = (
        name(),
        prop::collection::vec(name(), 1..4),
        prop::collection::vec(any::<prop::sample::Index>(), 0..3),
        prop::collection::vec(
            prop_oneof![Just(0.0), Just(1e-300), 0.0..1.0, Just(1.0)],
            27 * 3,
        ),
        prop::collection::vec(property(), 0..3),
        prop::collection::vec(property(), 0..2),
    );
    (
        prop_oneof![name(), Just(String::new())],
        prop::collection::vec(variable, 1..5),
        prop::collection::vec(property(), 0..2),
    )
        .prop_map(|(name, drafts, properties)| {
            let mut variables: Vec<Variable> = Vec::new();
            let mut cpts = Vec::new();
            let (mut of_variables, mut of_tables) = (Vec::new(), Vec::new());
            for (v, (name, states, picks, numbers, own, of_table)) in drafts.into_iter().enumerate()
            {
                // Numbers make equal names different.
                let states: Vec<String> = states
                    .iter()
                    .enumerate()
                    .map(|(s, n)| format!("{n}{s}"))
                    .collect();
                let mut parents: Vec<VariableId> = Vec::new();
                for pick in picks {
                    if v > 0 {
                        let id = VariableId::new(pick.index(v) as u32);
                        if !parents.contains(&id) {
                            parents.push(id);
                        }
                    }
                }
                let n_columns: usize = parents
                    .iter()
                    .map(|p| variables[p.index()].states.len())
                    .product();
                let mut table =
                    DMatrix::from_fn(states.len(), n_columns, |s, c| numbers[c * 3 + s]);
                for mut column in table.column_iter_mut() {
                    let sum = column.sum();
                    if sum < 1e-200 {
                        column.fill(0.0);
                        column[0] = 1.0;
                    } else {
                        column /= sum;
                    }
                }
                variables.push(Variable {
                    name: format!("{name}{v}"),
                    states,
                    role: Role::Chance,
                });
                cpts.push(Cpt { parents, table });
                of_variables.push(own);
                of_tables.push(of_table);
            }
            let network = Network::new(variables, cpts, Vec::new()).unwrap();
            let mut public = PublicNetwork::new(name, network).unwrap();
            public.properties = properties;
            public.variable_properties = of_variables;
            public.table_properties = of_tables;
            public
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn print_then_parse_changes_nothing(network in any_network()) {
        assert_round_trips(&network);
    }

    /// Any damage ends in a network or in messages, each with a place that can be shown.
    #[test]
    fn damaged_files_do_not_panic(
        network in any_network(),
        damage in prop::collection::vec((any::<prop::sample::Index>(), 0_u8..4, any::<u8>()), 1..6),
    ) {
        for format in [Format::Bif, Format::XmlBif] {
            let mut bytes = print(&network, format).unwrap().into_bytes();
            for (at, how, byte) in &damage {
                if bytes.is_empty() {
                    break;
                }
                let at = at.index(bytes.len());
                match how {
                    0 => bytes[at] = *byte,
                    1 => bytes.insert(at, *byte),
                    2 => _ = bytes.remove(at),
                    _ => bytes.truncate(at + 1),
                }
            }
            let text = String::from_utf8_lossy(&bytes).into_owned();
            // Either format may meet the other's text.
            for reader in [Format::Bif, Format::XmlBif] {
                rendered(&text, reader);
                if let Ok(read) = parsed(&text, reader) {
                    assert_round_trips(&read);
                }
            }
        }
    }

    #[test]
    fn any_text_is_read_or_refused(text in "(network|variable|probability|type|discrete|table|default|property|[a-z0-9.]| |\n|[{}()\\[\\];,|\"/*<>&!-]){0,60}") {
        rendered(&text, Format::Bif);
        rendered(&text, Format::XmlBif);
    }
}
