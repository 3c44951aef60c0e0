//! The pages that a newcomer reads say what is so: paths exist, commands print what is quoted,
//! rooms import what the table of rooms allows, and every definition that a figure names is there.

#![expect(
    clippy::unwrap_used,
    clippy::disallowed_methods,
    reason = "a test fails by panicking, and these are about files"
)]

use std::fs;
use std::path::Path;
use std::process::Command;

use assert_cmd::cargo::CommandCargoExt as _;

const ROOT: &str = env!("CARGO_MANIFEST_DIR");
const PAGES: [&str; 3] = ["README.md", "DEVELOPERS.md", "CHANGELOG.md"];

fn page(name: &str) -> String {
    fs::read_to_string(Path::new(ROOT).join(name)).unwrap()
}

/// The lines of a page outside its blocks of code, and those inside with the block's language.
fn parted(text: &str) -> (Vec<&str>, Vec<(&str, Vec<&str>)>) {
    let (mut outside, mut blocks) = (Vec::new(), Vec::new());
    let mut open: Option<(&str, Vec<&str>)> = None;
    for line in text.lines() {
        match (line.strip_prefix("```"), &mut open) {
            (Some(language), None) => open = Some((language, Vec::new())),
            (Some(_), Some(_)) => blocks.extend(open.take()),
            (None, Some((_, lines))) => lines.push(line),
            (None, None) => outside.push(line),
        }
    }
    assert!(open.is_none(), "a block of code is not closed");
    (outside, blocks)
}

/// Paths of the repository that a page names: in `backticks`, or as the target of a link.
fn paths_named(text: &str) -> Vec<String> {
    let text = parted(text).0.join("\n");
    let top: Vec<String> = fs::read_dir(ROOT)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    let quoted = text.split('`').skip(1).step_by(2);
    let linked = text
        .split("](")
        .skip(1)
        .filter_map(|rest| rest.split(')').next())
        .filter(|target| !target.contains("://"));
    let mut paths: Vec<String> = quoted
        .filter(|word| {
            let first = word.split('/').next().unwrap_or_default();
            let ends = [".rs", ".md", ".toml"]
                .iter()
                .any(|end| word.ends_with(end));
            let one_word = !word.contains(char::is_whitespace);
            // what is built is there once somebody has built it
            first != "target"
                && one_word
                && (ends || (word.contains('/') && top.iter().any(|name| name == first)))
        })
        .chain(linked)
        .map(str::to_owned)
        .collect();
    paths.sort();
    paths.dedup();
    paths
}

#[test]
fn every_path_that_a_page_names_exists() {
    for name in PAGES {
        let paths = paths_named(&page(name));
        for path in &paths {
            assert!(
                Path::new(ROOT).join(path).exists(),
                "{name} names `{path}`, which is not there"
            );
        }
        let enough = if name == "DEVELOPERS.md" { 30 } else { 0 };
        assert!(paths.len() >= enough, "{name}: only {paths:?} were found");
    }
}

/// Each ` ```console ` block of the README, run in one folder in the order of the page. A line
/// `[...]` stands for any lines; blanks at the end of a line do not count.
#[cfg(unix)]
#[test]
fn the_tour_prints_what_the_readme_quotes() {
    let folder = tempfile::tempdir().unwrap();
    let program = Command::cargo_bin("wyebench").unwrap();
    let mut folders = vec![
        Path::new(program.get_program())
            .parent()
            .unwrap()
            .to_path_buf(),
    ];
    folders.extend(std::env::split_paths(&std::env::var_os("PATH").unwrap()));
    let path = std::env::join_paths(folders).unwrap();
    let text = page("README.md");
    let mut n_commands = 0;
    for (language, lines) in parted(&text).1 {
        if language != "console" {
            continue;
        }
        let mut rest = lines.as_slice();
        while let Some((first, after)) = rest.split_first() {
            let command = first
                .strip_prefix("$ ")
                .expect("a block begins with a command");
            let n_lines = after
                .iter()
                .take_while(|line| !line.starts_with("$ "))
                .count();
            let (wanted, next) = after.split_at(n_lines);
            rest = next;
            let output = Command::new("sh")
                .args(["-c", &format!("exec 2>&1; {command}")])
                .current_dir(folder.path())
                .env("PATH", &path)
                .env("NO_COLOR", "1")
                .output()
                .unwrap();
            let got = String::from_utf8(output.stdout).unwrap();
            let got: Vec<&str> = got.lines().map(str::trim_end).collect();
            let shown = got.join("\n");
            assert!(
                fits(wanted, &got),
                "README.md quotes for `{command}`\n{}\n\nand the program prints\n{shown}",
                wanted.join("\n")
            );
            n_commands += 1;
        }
    }
    assert!(n_commands >= 9, "only {n_commands} commands were found");
}

/// Whether lines are as quoted, where `[...]` stands for any.
#[cfg(unix)]
fn fits(wanted: &[&str], got: &[&str]) -> bool {
    match wanted.split_first() {
        None => got.is_empty(),
        Some((&"[...]", after)) => (0..=got.len()).any(|skip| fits(after, &got[skip..])),
        Some((line, after)) => got
            .split_first()
            .is_some_and(|(first, rest)| first == line && fits(after, rest)),
    }
}

/// Every folder of `src/` has its row, and imports only rooms of rows above its own.
#[test]
fn rooms_import_only_rooms_before_them() {
    let text = page("DEVELOPERS.md");
    let rows: Vec<&str> = text
        .lines()
        .filter_map(|line| line.strip_prefix("| `src/")?.split('/').next())
        .collect();
    for entry in fs::read_dir(Path::new(ROOT).join("src")).unwrap() {
        let entry = entry.unwrap();
        if !entry.file_type().unwrap().is_dir() {
            continue;
        }
        let room = entry.file_name().into_string().unwrap();
        let row = rows.iter().position(|name| *name == room);
        let row = row.unwrap_or_else(|| {
            panic!("the table of rooms in DEVELOPERS.md has no row for src/{room}/")
        });
        let mut files = Vec::new();
        sources(&entry.path(), &mut files);
        for (file, source) in files {
            let imported = rows
                .iter()
                .enumerate()
                .filter(|(_, name)| source.contains(&format!("crate::{name}")));
            for (other_row, other) in imported {
                assert!(
                    other_row <= row,
                    "{file} imports `{other}`, which comes after `{room}`"
                );
            }
        }
    }
}

/// Sources below a folder, each with its path.
fn sources(folder: &Path, out: &mut Vec<(String, String)>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, out);
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            out.push((
                path.display().to_string(),
                fs::read_to_string(&path).unwrap(),
            ));
        }
    }
}

#[test]
fn every_definition_that_a_figure_names_is_in_the_developers_page() {
    let folder = tempfile::tempdir().unwrap();
    let wyebench = || {
        let mut command = Command::cargo_bin("wyebench").unwrap();
        command.current_dir(folder.path());
        command
    };
    assert!(
        wyebench()
            .args(["new", "pond"])
            .output()
            .unwrap()
            .status
            .success()
    );
    let output = wyebench()
        .args(["run", "pond.toml", "--why", "all"])
        .output()
        .unwrap();
    let explained = String::from_utf8(output.stdout).unwrap();
    let developers = page("DEVELOPERS.md").to_lowercase();
    let mut n_definitions = 0;
    for line in explained.lines() {
        if let Some(name) = line
            .trim()
            .strip_prefix("source   definition, see DEVELOPERS.md, ")
        {
            assert!(developers.contains(&format!("- **{name}**")), "{name}");
            n_definitions += 1;
        }
    }
    assert!(n_definitions > 10, "{explained}");
}
