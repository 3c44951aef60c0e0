//! One file per mistake, with exactly what the person sees.
//!
//! Each `tests/bad_setups/NAME.toml` is refused, and `NAME.snap` beside it holds the message as
//! a terminal 90 columns wide without colour shows it.

#![expect(clippy::disallowed_methods, reason = "the corpus is files")]

use std::fs;
use std::path::Path;

use miette::{Diagnostic, GraphicalReportHandler, GraphicalTheme};
use wyebench::cli::{ReadError, read_setup_file};
use wyebench::setup::{MAX_TEXT_BYTES, Setup};

const CORPUS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/bad_setups");

fn shown(problem: &dyn Diagnostic) -> String {
    let mut out = String::new();
    GraphicalReportHandler::new_themed(GraphicalTheme::unicode_nocolor())
        .with_width(90)
        .with_links(false)
        .render_report(&mut out, problem)
        .expect("a text can be written to");
    out.lines()
        .map(str::trim_end)
        .collect::<Vec<_>>()
        .join("\n")
}

#[test]
fn every_mistake_is_told_with_its_place_and_remedy() {
    let mut names: Vec<String> = fs::read_dir(CORPUS)
        .unwrap()
        .filter_map(|entry| {
            Some(
                entry
                    .unwrap()
                    .file_name()
                    .to_str()?
                    .strip_suffix(".toml")?
                    .to_owned(),
            )
        })
        .collect();
    names.sort();
    assert!(names.len() >= 45, "the corpus has {} files", names.len());
    let mut settings = insta::Settings::clone_current();
    settings.set_snapshot_path("bad_setups");
    settings.set_prepend_module_to_snapshot(false);
    settings.set_omit_expression(true);
    settings.bind(|| {
        for name in &names {
            let file = format!("{name}.toml");
            let text = read_setup_file(&Path::new(CORPUS).join(&file)).unwrap();
            let errors = match Setup::parse(&text, &file) {
                Ok(_) => panic!("{file} is taken without a complaint"),
                Err(errors) => errors,
            };
            for problem in errors.problems() {
                assert!(
                    problem.remedy().is_some_and(|r| !r.is_empty()),
                    "{file}: {problem}"
                );
            }
            insta::assert_snapshot!(name.as_str(), shown(&errors));
        }
    });
}

/// What the person sees of a file that is no setup text, its folder left out.
fn refusal(path: &Path) -> (ReadError, String) {
    let error = read_setup_file(path).expect_err("no setup text");
    let folder = path.parent().expect("in a folder").display().to_string();
    // Messages wrap at the width, and the folder's name has no fixed length: not laid out here.
    let help = error.help().map(|h| h.to_string()).unwrap_or_default();
    let text = format!("{error}\nhelp: {help}")
        .replace(&format!("{folder}/"), "")
        .replace(&folder, "FOLDER");
    (error, text)
}

#[test]
fn a_missing_file_is_named_with_its_neighbour() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("aerator.toml"), "format = 1\n").unwrap();
    let (_, text) = refusal(&folder.path().join("airator.toml"));
    insta::assert_snapshot!(text, @r"
    there is no file airator.toml
    help: did you mean aerator.toml?
    ");
    let (_, text) = refusal(&folder.path().join("sluice.toml"));
    insta::assert_snapshot!(text, @r"
    there is no file sluice.toml
    help: `wyebench new sluice.toml` in FOLDER writes a setup with comments to start from; `predict`, `choose` and `readings` print a file of theirs with --example
    ");
}

#[test]
fn a_folder_is_not_a_setup() {
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("bench")).unwrap();
    let (_, text) = refusal(&folder.path().join("bench"));
    insta::assert_snapshot!(text, @r"
    bench is a folder
    help: name the setup file in it, such as FOLDER/bench.toml
    ");
}

#[test]
fn a_binary_file_is_told_by_its_first_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("picture.toml");
    fs::write(&path, [0x89, b'P', b'N', b'G', 0, 1, 2, 3]).unwrap();
    let (_, text) = refusal(&path);
    insta::assert_snapshot!(text, @r"
    picture.toml is not text in UTF-8: byte 0, in line 1, is not a character
    help: a setup is a TOML text; this looks like another kind of file, or UTF-16: save it as UTF-8
    ");
    // A micro sign as an old editor wrote it, one byte.
    fs::write(
        &path,
        b"format = 1\n[machine.phase]\ninductance = \"18 \xb5H\"\n",
    )
    .unwrap();
    let (_, text) = refusal(&path);
    insta::assert_snapshot!(text, @r#"
    picture.toml is not text in UTF-8: byte 44, in line 3, is not a character
    help: save it as UTF-8 in the editor; "u" and "ohm" need no special characters
    "#);
}

#[test]
fn a_file_of_50_mb_is_refused_by_its_size() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("log.toml");
    fs::File::create(&path)
        .unwrap()
        .set_len(50_000_000)
        .unwrap();
    let (_, text) = refusal(&path);
    insta::assert_snapshot!(text, @r"
    log.toml has 50000000 bytes, too many for a setup
    help: a setup is a text of a few kilobytes, at most 1048576 bytes; is it another file?
    ");
    // The same limit where the text comes from elsewhere.
    let errors = Setup::parse(&"#".repeat(MAX_TEXT_BYTES + 1), "dropped").unwrap_err();
    assert!(errors.problems()[0].to_string().contains("1048577 bytes"));
}

#[test]
fn an_empty_file_is_told_as_empty() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("empty.toml");
    fs::write(&path, "").unwrap();
    let text = read_setup_file(&path).unwrap();
    let errors = Setup::parse(&text, "empty.toml").unwrap_err();
    assert_eq!(errors.problems()[0].to_string(), "the file is empty");
}

#[cfg(unix)]
#[test]
fn a_file_without_permission_is_told_so() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("locked.toml");
    fs::write(&path, "format = 1\n").unwrap();
    fs::set_permissions(&path, fs::Permissions::from_mode(0o000)).unwrap();
    if fs::File::open(&path).is_ok() {
        // Whoever runs this may read everything, as root may: there is nothing to see.
        return;
    }
    let (_, text) = refusal(&path);
    insta::assert_snapshot!(text, @r"
    locked.toml may not be read
    help: ask for the right to read it, or copy it
    ");
}
