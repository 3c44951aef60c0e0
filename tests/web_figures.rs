//! The figures of every run of the course are the same bits in a browser as here.
//!
//! `tests/web` has a browser make the runs and puts what it counted into a file, whose path it
//! hands over in `WYEBENCH_WEB_FIGURES`. Without that only this machine is looked at.

#![expect(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a test fails by panicking, reads a file, and says what it left out"
)]

use std::fs;

use wyebench::lesson::tally;

#[test]
fn a_browser_counts_to_the_same_bits() {
    let path = std::env::var_os("WYEBENCH_WEB_FIGURES");
    let names = tally::names();
    assert!(names.len() > 40, "only {} runs", names.len());
    let Some(path) = path else {
        println!("no figures of a browser at hand: run tests/web");
        let first = tally::lines(&names[0]).unwrap();
        assert_eq!(first, tally::lines(&names[0]).unwrap());
        assert!(first.len() > 15, "{first:#?}");
        return;
    };
    let there = fs::read_to_string(path).unwrap();
    let there: Vec<&str> = there.lines().collect();
    let here: Vec<String> = names
        .iter()
        .flat_map(|name| tally::lines(name).unwrap())
        .collect();
    assert!(here.len() > 1_000, "only {} figures", here.len());
    let other: Vec<_> = here.iter().zip(&there).filter(|(a, b)| a != *b).collect();
    assert!(
        other.is_empty() && here.len() == there.len(),
        "{} of {} figures differ: {:#?}",
        other.len(),
        here.len(),
        &other[..other.len().min(20)]
    );
}
