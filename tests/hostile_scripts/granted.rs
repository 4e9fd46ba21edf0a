//! Folders, imports and files: what was not granted is out of reach.

use super::place::{PATIENCE, Place, check};

/// A pack reached by a link is a pack outside, and so is a file of a pack reached by a link: a message about it would show
/// what is in it.
#[cfg(unix)]
#[test]
fn links_out_of_the_folder() {
    use std::os::unix::fs::symlink;

    let place = Place::new();
    let outside = tempfile::tempdir().unwrap();
    std::fs::rename(place.path("priors/tidewheel"), outside.path().join("pack")).unwrap();
    symlink(outside.path().join("pack"), place.path("priors/linked")).unwrap();
    place.write("open.rhai", b"open_pack(\"linked\");");
    check(
        &place.run("open.rhai"),
        4,
        "`linked` leads outside the folder of packs",
    );

    let place = Place::new();
    let secret = outside.path().join("secret.toml");
    std::fs::write(&secret, "password = [hunter2").unwrap();
    let file = place.path("priors/tidewheel/pack.toml");
    std::fs::remove_file(&file).unwrap();
    symlink(&secret, &file).unwrap();
    place.write("open.rhai", b"open_pack(\"tidewheel\");");
    let ran = place.run("open.rhai");
    check(
        &ran,
        4,
        "`tidewheel/pack.toml` leads outside the folder of packs",
    );
    assert!(!ran.err.contains("hunter2"), "{}", ran.err);

    // The rules files beside a pack are read with it.
    let place = Place::new();
    std::fs::create_dir(place.path("priors/rules")).unwrap();
    symlink(&secret, place.path("priors/rules/laws.toml")).unwrap();
    place.write("open.rhai", b"open_pack(\"tidewheel\");");
    let ran = place.run("open.rhai");
    check(
        &ran,
        4,
        "`rules/laws.toml` leads outside the folder of packs",
    );
    assert!(!ran.err.contains("hunter2"), "{}", ran.err);

    // A link that stays inside is none of this.
    let place = Place::new();
    symlink(place.path("priors/tidewheel"), place.path("priors/again")).unwrap();
    place.write("open.rhai", b"open_pack(\"again\");");
    let ran = place.run("open.rhai");
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
}

/// Imports in a circle of two, in a long row, and with what an imported file does itself.
#[test]
fn imports_without_end() {
    let place = Place::new();
    place.write("one.rhai", b"import \"two\" as two;");
    place.write("two.rhai", b"\nimport \"one\" as one;");
    let ran = place.run_within(PATIENCE, "one.rhai");
    let circle = "imports go round in a circle: `two` imports `one` imports `two`";
    check(&ran, 4, circle);
    assert!(ran.err.contains("one.rhai:1:8"), "{}", ran.err);

    for i in 0..40 {
        let text = format!("import \"row{}\" as next;", i + 1);
        place.write(&format!("row{i}.rhai"), text.as_bytes());
    }
    place.write("row40.rhai", b"");
    let ran = place.run_within(PATIENCE, "row0.rhai");
    check(&ran, 4, "more than 16 files import one another in a row");

    let many: String = (0..70)
        .map(|i| format!("import \"many{i}\" as m{i};\n"))
        .collect();
    place.write("many.rhai", many.as_bytes());
    for i in 0..70 {
        place.write(&format!("many{i}.rhai"), b"");
    }
    let ran = place.run_within(PATIENCE, "many.rhai");
    check(&ran, 4, "a script may import 64 files");

    // The steps of all files count together, so that no file gives a script more.
    place.write("endless.rhai", b"loop {}");
    place.write(
        "import.rhai",
        b"loop { try { import \"endless\" as e; } catch {} }",
    );
    check(
        &place.run_within(PATIENCE, "import.rhai"),
        4,
        "steps and is stopped",
    );
}

/// An error in an imported file is shown where it is.
#[test]
fn errors_of_an_imported_file() {
    let place = Place::new();
    place.write("lib.rhai", b"fn broken(x) {\n    no_such_thing(x)\n}\n");
    place.write("call.rhai", b"import \"lib\" as lib;\nlib::broken(1);");
    let ran = place.run_within(PATIENCE, "call.rhai");
    check(&ran, 4, "there is no function `no_such_thing`");
    assert!(ran.err.contains("lib.rhai:2:5"), "{}", ran.err);

    place.write("lib.rhai", b"let a = ;\n");
    let ran = place.run_within(PATIENCE, "call.rhai");
    check(&ran, 4, "error[script::syntax]");
    assert!(ran.err.contains("lib.rhai:1:9"), "{}", ran.err);

    place.write("lib.rhai", b"\nthrow \"given up\";\n");
    let ran = place.run_within(PATIENCE, "call.rhai");
    check(&ran, 4, "given up");
    assert!(ran.err.contains("lib.rhai:2:1"), "{}", ran.err);

    // What is granted can be used.
    std::fs::create_dir(place.path("lib")).unwrap();
    place.write("lib/sums.rhai", b"fn twice(x) { x * 2 }");
    place.write(
        "good.rhai",
        b"import \"neighbour\" as n; import \"sums\" as s; print(s::twice(n::secret()));",
    );
    let ran = place.run_within(PATIENCE, "good.rhai");
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
}

/// Files reached by a link that leads out of the folder granted.
#[cfg(unix)]
#[test]
fn links_out_of_a_granted_folder() {
    use std::os::unix::fs::symlink;

    let place = Place::new();
    let outside = tempfile::tempdir().unwrap();
    let secret = outside.path().join("secret");
    std::fs::write(&secret, "password\nhunter2\n").unwrap();
    std::fs::create_dir(place.path("granted")).unwrap();
    let granted = place.path("granted");
    let grants = [
        "--read",
        granted.to_str().unwrap(),
        "--write",
        granted.to_str().unwrap(),
    ];

    symlink(&secret, place.path("granted/secret.csv")).unwrap();
    symlink(&secret, place.path("linked.rhai")).unwrap();
    symlink(outside.path(), place.path("granted/away")).unwrap();
    symlink(
        outside.path().join("not there"),
        place.path("granted/nowhere"),
    )
    .unwrap();
    for (script, words) in [
        (
            "read_csv(\"secret.csv\");",
            "`secret.csv` leads outside the folder granted",
        ),
        (
            "read_csv(\"away/secret\");",
            "`away/secret` leads outside the folder granted",
        ),
        (
            "import \"linked\" as l;",
            "`linked` leads outside the folder of scripts",
        ),
        (
            "write_text(\"away/new\", \"x\");",
            "`away/new` leads outside the folder granted",
        ),
        (
            "write_text(\"../new\", \"x\");",
            "a file is named without `..`",
        ),
        (
            "write_text(\"/tmp/new\", \"x\");",
            "a file is named without `..`",
        ),
        ("write_text(\"away\", \"x\");", "`away` is a folder"),
        (
            "write_text(\"away/deeper/new\", \"x\");",
            "`away/deeper/new` leads outside the folder granted",
        ),
        (
            "write_text(\"nowhere/new\", \"x\");",
            "`nowhere/new` cannot be written",
        ),
    ] {
        place.write("script.rhai", script.as_bytes());
        let ran = place.run_with(PATIENCE, "script.rhai", &grants);
        check(&ran, 4, words);
        assert!(!ran.err.contains("hunter2"), "{}", ran.err);
    }
    assert_eq!(std::fs::read_dir(outside.path()).unwrap().count(), 1);
}

/// Tables that are none, and a script that would fill the disk.
#[test]
fn tables_and_texts_beyond_all_measure() {
    let place = Place::new();
    let tables: [(&str, Vec<u8>, &str); 6] = [
        (
            "uneven",
            b"a,b\n1,2\n1,2,3\n".to_vec(),
            "line 3: 3 cells where the headings are 2",
        ),
        (
            "twice",
            b"a,a\n1,2\n".to_vec(),
            "two columns are called `a`",
        ),
        ("unnamed", b"a,\n1,2\n".to_vec(), "column 2 has no heading"),
        ("latin", b"a\ncaf\xe9\n".to_vec(), "is not UTF-8 text"),
        ("large", b"a\n".repeat(9 << 20), "at most 16777216 are read"),
        ("wide", b"a,".repeat(20_000), "columns; 1000 are read"),
    ];
    for (name, text, words) in tables {
        place.write(&format!("{name}.csv"), &text);
        place.write("read.rhai", format!("read_csv(\"{name}.csv\");").as_bytes());
        check(&place.run_within(PATIENCE, "read.rhai"), 4, words);
    }
    // A long table is no long list, and its rows end.
    place.write(
        "long.csv",
        format!("a,b\n{}", "1,2\n".repeat(200_000)).as_bytes(),
    );
    place.write(
        "read.rhai",
        b"let n = 0; let rows = read_csv(\"long.csv\"); for row in rows { n += 1; } if n != rows.len() { throw n; }",
    );
    let ran = place.run_within(PATIENCE, "read.rhai");
    assert_eq!((ran.code, ran.err.as_str()), (Some(0), ""));
    place.write("row.rhai", b"read_csv(\"long.csv\")[200000];");
    check(
        &place.run_within(PATIENCE, "row.rhai"),
        4,
        "there is no row 200000: the table has 200000",
    );
}
