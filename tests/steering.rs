//! What would steer the terminal of whoever reads a result is never printed as it came: not from a script's own texts, not from
//! a table, not as JSON.
#![allow(clippy::unwrap_used, reason = "a test may panic")]

mod outside;

/// ESC and BEL of a command that sets the title of a window; the same in one character (CSI of ISO/IEC 6429); a character that
/// turns the direction of writing.
const STEERS: [char; 5] = ['\x1b', '\x07', '\u{9b}', '\u{202e}', '\x7f'];

/// Prints and shows a cell of a table in every way a script has.
const SCRIPT: &str = r#"
let cell = read_csv("lots.csv")[0].lot;
print(cell);
show(#{ lot: cell });
show([#{ lot: cell, chance: 0.5 }]);
show([cell]);
print([cell]);
print("in the middle " + cell + " of a line");
"#;

fn ran(options: &[&str]) -> String {
    let folder = tempfile::tempdir().unwrap();
    let lots = format!(
        "lot\n\"a{}\nsecond line\"\n",
        STEERS.iter().collect::<String>()
    );
    std::fs::write(folder.path().join("lots.csv"), lots).unwrap();
    let path = folder.path().join("steers.rhai");
    std::fs::write(&path, SCRIPT).unwrap();
    let mut arguments = vec!["run", path.to_str().unwrap()];
    arguments.extend(options);
    outside::succeeds(&arguments)
}

#[test]
fn text_shows_signs() {
    let text = ran(&[]);
    assert!(!text.contains(STEERS), "{text:?}");
    // Line breaks are a script's own where it prints, and none within a table.
    assert_eq!(
        text.matches("a␛␇\u{fffd}\u{fffd}␡␊second line").count(),
        2,
        "{text}"
    );
    assert_eq!(text.matches("\nsecond line").count(), 2, "{text}");
}

#[test]
fn json_holds_the_text_itself() {
    let text = ran(&["--json"]);
    assert!(!text.contains(STEERS), "{text:?}");
    let document: serde_json::Value = serde_json::from_str(&text).unwrap();
    let printed = document["results"][0]["text"].as_str().unwrap();
    let cell: String = STEERS.iter().collect();
    assert_eq!(printed, format!("a{cell}\nsecond line"));
}
