//! A small pack of one listed maker, made for a step of the calendar, beside the project's rules files.

use std::path::Path;

use tempfile::TempDir;

/// First and last year of the calendar.
pub const CALENDAR: (i64, i64) = (1840, 1979);

/// A folder that holds the pack as `dated` and the rules beside it. Invented, but for the rules.
pub fn folder(step: i64) -> TempDir {
    let priors = tempfile::tempdir().unwrap();
    let pack = priors.path().join("dated");
    std::fs::create_dir(&pack).unwrap();
    std::fs::create_dir(priors.path().join("rules")).unwrap();
    let rules = Path::new(env!("CARGO_MANIFEST_DIR")).join("priors/rules/termini.toml");
    std::fs::copy(rules, priors.path().join("rules/termini.toml")).unwrap();
    let (first, last) = CALENDAR;
    let texts = [
        (
            "pack.toml",
            format!(
                r#"
[pack]
name  = "Dated ware"
rules = ["termini"]
[dating]
about = 4
wrong = "30%"
[calendar]
years = "{first}/{last}"
step  = {step}
[wording]
marked     = "99%"
attributed = "90%"
works      = "90%"
probably   = "70%"
either     = "90%"
region     = "80%"
engraving  = "90%"
copy       = "90%"
"#
            ),
        ),
        (
            "makers.toml",
            format!(
                r#"
region = [{{ id = "any" }}]
[shares]
seen = 30
[[maker]]
id = "A"
name = "Ashbrook"
region = "any"
years = "1850/1919"
share = "50%"
output = {{ years = "1860~/1909", seen = 20 }}
[[maker]]
id = "U"
name = "a maker not listed"
role = "unlisted"
region = "any"
years = "{first}/{last}"
share = "30%"
output = {{ years = "{first}/{last}", seen = 20 }}
[[maker]]
id = "R"
name = "later reproduction"
role = "reproduction"
region = "any"
years = "1950/1979"
share = "20%"
output = {{ years = "1950/..", seen = 20 }}
"#
            ),
        ),
        (
            "clues.toml",
            r#"
[[clue]]
id    = "inscription"
name  = "date inscribed"
kind  = "date"
wrong = "10%"
seen  = 20
"#
            .to_owned(),
        ),
    ];
    for (name, text) in texts {
        std::fs::write(pack.join(name), text).unwrap();
    }
    priors
}
