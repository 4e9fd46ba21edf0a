//! The console at a terminal: editing, completion, history, several lines.

use std::io::{Read, Write};
use std::process::Child;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use pty_process::blocking::{Command, open};

/// How long to wait for what must come: no machine is slower.
const PATIENCE: Duration = Duration::from_secs(120);
const TAB: &str = "\t";
const ENTER: &str = "\r";
const UP: &str = "\u{1b}[A";
const END_OF_INPUT: &str = "\u{4}";
const INTERRUPT: &str = "\u{3}";

/// What the editor sends once it has the terminal, and when it gives a line back.
const EDITOR_IN: &str = "\u{1b}[?2004h";
const EDITOR_OUT: &str = "\u{1b}[?2004l";

/// The console with a terminal around it.
struct Terminal {
    keys: std::fs::File,
    child: Child,
    /// All that it printed.
    screen: Arc<Mutex<Vec<u8>>>,
    /// How far it was looked at.
    looked_at: usize,
}

impl Terminal {
    fn new(arguments: &[&str]) -> Self {
        let (pty, pts) = open().unwrap();
        pty.resize(pty_process::Size::new(50, 200)).unwrap();
        let child = Command::new(env!("CARGO_BIN_EXE_saggar"))
            .args(["console", super::PACK])
            .args(arguments)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .env("TERM", "xterm")
            .env("NO_COLOR", "1")
            .spawn(pts)
            .unwrap();
        let screen: Arc<Mutex<Vec<u8>>> = Arc::default();
        let printed = Arc::clone(&screen);
        let output = std::os::fd::OwnedFd::from(pty).try_clone().unwrap();
        let keys = output.try_clone().unwrap();
        let mut output = std::fs::File::from(output);
        std::thread::spawn(move || {
            let mut some = [0; 4096];
            // It ends with an error when the console has gone.
            while let Ok(n @ 1..) = output.read(&mut some) {
                printed.lock().unwrap().extend(&some[..n]);
            }
        });
        let mut terminal = Self {
            keys: std::fs::File::from(keys),
            child,
            screen,
            looked_at: 0,
        };
        terminal.is_ready();
        terminal
    }

    fn types(&mut self, keys: &str) {
        self.keys.write_all(keys.as_bytes()).unwrap();
    }

    /// Waits until this is printed, after what was waited for before.
    #[track_caller]
    fn shows(&mut self, text: &str) {
        let start = Instant::now();
        loop {
            let screen = String::from_utf8_lossy(&self.screen.lock().unwrap()).into_owned();
            if let Some(at) = screen[self.looked_at..].find(text) {
                self.looked_at += at + text.len();
                return;
            }
            let rest = &screen[self.looked_at..];
            assert!(
                start.elapsed() < PATIENCE,
                "no `{text}` in:\n{rest}\n{rest:?}"
            );
            std::thread::sleep(Duration::from_millis(20));
        }
    }

    /// Waits until the editor has the terminal again: it drops what is typed before.
    ///
    /// The prompt alone would not do, since it is drawn anew with each key.
    #[track_caller]
    fn is_ready(&mut self) {
        self.shows(EDITOR_IN);
        self.shows("> ");
    }

    /// Ctrl-C, and the next prompt.
    #[track_caller]
    fn gives_up(&mut self) {
        self.types(INTERRUPT);
        self.shows(EDITOR_OUT);
        self.is_ready();
    }

    /// Ctrl-D, once it is ready.
    #[track_caller]
    fn ends(mut self) {
        self.types(END_OF_INPUT);
        let start = Instant::now();
        while self.child.try_wait().unwrap().is_none() {
            assert!(start.elapsed() < PATIENCE, "it goes on after Ctrl-D");
            std::thread::sleep(Duration::from_millis(20));
        }
        assert!(self.child.wait().unwrap().success());
    }
}

#[test]
fn a_jug_at_the_terminal() {
    let mut terminal = Terminal::new(&[]);
    // Several lines, until the semicolon.
    terminal.types("let jug = pack.piece(\"jug\")\r");
    terminal.types(".saw(\"size\", \"IV\");\r");
    terminal.shows("jug: ");
    terminal.is_ready();

    // A function, a clue and a state by their beginnings.
    terminal.types("jug = jug.saw");
    terminal.types(TAB);
    terminal.types("\"tin");
    terminal.types(TAB);
    terminal.types("\", \"blu");
    terminal.types(TAB);
    terminal.shows("jug.saw(\"tint\", \"blue");
    terminal.types("\");");
    terminal.types(ENTER);
    terminal.shows("\njug: ");
    terminal.is_ready();

    // The entry before, and the one before that.
    terminal.types("1 + 41");
    terminal.types(ENTER);
    terminal.shows("\n42");
    terminal.is_ready();
    terminal.types(UP);
    terminal.types(" + 100");
    terminal.types(ENTER);
    terminal.shows("\n142");
    terminal.is_ready();

    terminal.types("help cannot_tell\r");
    terminal.shows("piece.cannot_tell(clue: text) -> piece");
    terminal.shows("example: jug.cannot_tell(");
    terminal.is_ready();

    // A line given up; a mistake, and on.
    terminal.types("(1 + ");
    terminal.gives_up();
    terminal.types("jug.saw(\"foot\", \"singel\")\r");
    terminal.shows("did you mean `single`?");
    terminal.is_ready();
    terminal.types("print(jug.verdict().leader)\r");
    terminal.shows("\nK");
    terminal.is_ready();
    terminal.ends();
}

#[test]
fn several_words_are_listed() {
    let mut terminal = Terminal::new(&[]);
    terminal.types("pack.states(\"w");
    terminal.types(TAB);
    terminal.types(TAB);
    terminal.shows("wall");
    terminal.shows("wear");
    terminal.shows("wheel");
    terminal.gives_up();
    terminal.ends();
}

#[test]
fn what_was_typed_is_kept_only_if_asked() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("history");
    let name = file.to_str().unwrap();

    let mut terminal = Terminal::new(&[]);
    terminal.types("7 * 6\r");
    terminal.shows("\n42");
    terminal.is_ready();
    terminal.ends();
    assert!(!file.exists());

    let mut terminal = Terminal::new(&["--history", name]);
    terminal.types("6 * 7\r");
    terminal.shows("\n42");
    terminal.is_ready();
    terminal.ends();
    assert!(std::fs::read_to_string(&file).unwrap().contains("6 * 7"));

    let mut terminal = Terminal::new(&["--history", name]);
    terminal.types(UP);
    terminal.types(" + 1\r");
    terminal.shows("\n43");
    terminal.is_ready();
    terminal.ends();
}

#[test]
fn ctrl_c_ends_what_runs_and_not_the_session() {
    let mut terminal = Terminal::new(&[]);
    terminal.types("let n = 41;\r");
    terminal.is_ready();
    // Neither a loop of the script nor a run of the library would end in time by itself.
    for endless in [
        "print(\"it runs\"); loop {}\r",
        "print(\"it runs\"); pack.piece(\"x\").saw(\"size\", \"V\").stress(1_000_000)\r",
    ] {
        terminal.types(endless);
        terminal.shows("\nit runs");
        terminal.types(INTERRUPT);
        terminal.shows("ended here, as you asked");
        terminal.is_ready();
    }
    terminal.types("n + 1\r");
    terminal.shows("\n42");
    terminal.is_ready();
    terminal.ends();
}
