//! Work in slices: it rests as often as it should, and comes to what it comes to in one go.

#![expect(clippy::unwrap_used, reason = "a test fails by panicking")]

use std::fmt::Write as _;

use wyebench::predict::{Build, confirm, confirm_in_slices, example_build, predict};
use wyebench::readings::capture::{
    Asked, Capture, DrivenOptions, Found, Picks, SpunOptions, TIME_STANDARD, Table, example_capture,
};
use wyebench::readings::{BenchSheet, example_sheet, judge, judge_in_slices};
use wyebench::scene::curves::{panels_of_build, panels_of_build_in_slices};
use wyebench::slices::{InSlices, rest, through};

/// What comes of work, and how often it rested.
fn sliced<T>(work: impl Future<Output = T> + Send + 'static) -> (T, u32) {
    let mut slices = InSlices::new(work);
    let mut n_rests = 0;
    loop {
        assert!(!slices.is_done());
        if let Some(done) = slices.advance() {
            assert!(slices.is_done() && slices.advance().is_none());
            return (done, n_rests);
        }
        n_rests += 1;
    }
}

#[test]
fn work_rests_where_it_says_so_and_nowhere_else() {
    let work = || async {
        let mut list = Vec::new();
        for k in 0..7 {
            list.push(k);
            rest().await;
        }
        list
    };
    assert_eq!(sliced(work()), (through(work()), 7));
}

/// Two channels of a turning motor with a noise of their own.
fn spun_text(rows: u32) -> String {
    let mut text = String::from("t,U,V\ns,V,V\n");
    for k in 0..rows {
        let t = f64::from(k) * 5e-6;
        let noise = |of: u32| f64::from(of * 7919 % 1000) * 1e-5;
        let volts = |n: u32| {
            4.0 * libm::sin(std::f64::consts::TAU * (150.0 * t - f64::from(n) / 3.0))
                + noise(k + 31 * n)
        };
        writeln!(text, "{t:.7},{:.4},{:.4}", volts(0), volts(1)).unwrap();
    }
    text
}

fn asked(pole_pairs: Option<u32>) -> Asked {
    Asked::Spun(SpunOptions {
        speed_rad_s: None,
        pole_pairs,
        phases: false,
        gain_standard: 0.015,
        time_standard: TIME_STANDARD,
    })
}

/// A table rests every two thousand lines, what is found in it between two passes through it.
#[test]
fn a_large_capture_is_read_in_slices() {
    const ROWS: u32 = 60_000;
    let text = spun_text(ROWS);
    let whole = Table::read(text.as_bytes(), None).unwrap();
    let (table, n_rests) =
        sliced(async move { Table::read_in_slices(text.as_bytes(), None).await.unwrap() });
    assert_eq!(table, whole);
    assert!(n_rests >= ROWS / 2048, "{n_rests} rests");
    let whole = Capture::new(&table, &Picks::default()).unwrap();
    let again = table.clone();
    let (capture, n_rests) = sliced(async move {
        let read = Capture::new_in_slices(&again, &Picks::default()).await;
        read.unwrap()
    });
    assert_eq!(capture, whole);
    assert!(n_rests >= 4, "{n_rests} rests");
    let whole = Found::of(&capture, &asked(Some(4))).unwrap();
    let (found, n_rests) = sliced(async move {
        let found = Found::of_in_slices(&capture, &asked(Some(4))).await;
        found.unwrap()
    });
    assert_eq!(format!("{found:?}"), format!("{whole:?}"));
    assert!(n_rests >= 10, "{n_rests} rests");
}

/// What is wrong is told alike.
#[test]
fn what_is_wrong_is_told_alike() {
    for text in ["", "a,b\nc,d\n", "1,2\n3,4\n\u{1}"] {
        let whole = Table::read(text.as_bytes(), None).unwrap_err();
        let (told, _) = sliced(Table::read_in_slices(text.as_bytes(), None));
        assert_eq!(told.unwrap_err(), whole);
    }
    let table = Table::read(example_capture().as_bytes(), None).unwrap();
    let capture = Capture::new(&table, &Picks::default()).unwrap();
    let asked = Asked::Driven(DrivenOptions {
        gain_standard: 0.015,
    });
    let whole = Found::of(&capture, &asked).unwrap_err();
    let (told, _) = sliced(async move { Found::of_in_slices(&capture, &asked).await });
    assert_eq!(told.unwrap_err(), whole);
}

/// A sheet with a miscounted magnet rests before every cause that is weighed.
#[test]
fn readings_are_judged_in_slices() {
    let miscounted = example_sheet().replace("magnets = 14", "magnets = 12");
    assert_ne!(miscounted, example_sheet(), "the sheet counts magnets");
    let sheet = || BenchSheet::parse(&miscounted, "sheet").unwrap();
    let whole = judge(&sheet()).unwrap();
    let own = sheet();
    let (verdict, n_rests) = sliced(async move { judge_in_slices(&own).await.unwrap() });
    assert_eq!(format!("{verdict:?}"), format!("{whole:?}"));
    assert!(!verdict.agree);
    assert!(n_rests as usize > verdict.causes.len(), "{n_rests} rests");
}

/// A predicted point is simulated, and its curves are made, in slices.
#[test]
fn predictions_are_made_in_slices() {
    let build = Build::parse(example_build(), "build").unwrap();
    let prediction = predict(&build).unwrap();
    let point = prediction.loaded;
    let whole = confirm(&build, &point);
    let own = build.clone();
    let (confirmed, _) = sliced(async move { confirm_in_slices(&own, &point).await });
    assert_eq!(confirmed, whole);
    assert!(confirmed.is_some());
    let whole = panels_of_build(&build, &prediction, confirmed.as_ref()).unwrap();
    let (panels, n_rests) = sliced(async move {
        let panels = panels_of_build_in_slices(&build, &prediction, confirmed.as_ref()).await;
        panels.unwrap()
    });
    assert_eq!(format!("{panels:?}"), format!("{whole:?}"));
    assert!(n_rests > 300, "{n_rests} rests");
}
