//! The window on a real display server, as a person meets it: it opens, turns, bears being made
//! tiny and put away, and closes in the middle of a run.
//!
//! Needs Xvfb (Debian: `xvfb`, which `tests/run` installs) and a Vulkan device, which may be the
//! software one; without Xvfb the test says so and checks nothing.
#![cfg(all(feature = "window", target_os = "linux"))]
#![expect(
    clippy::unwrap_used,
    clippy::print_stdout,
    clippy::disallowed_methods,
    reason = "a test stops where something is not as it should be, and this one is about \
              processes and time"
)]

use std::io::BufRead as _;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use x11rb::connection::Connection as _;
use x11rb::protocol::xproto::{
    AtomEnum, ClientMessageEvent, ConfigureWindowAux, ConnectionExt as _, EventMask, ImageFormat,
    MapState, Window,
};
use x11rb::rust_connection::RustConnection;

/// How long anything may take on a busy machine that draws without a graphics device.
const PATIENCE: Duration = Duration::from_secs(60);

/// A process that ends with the test.
struct Ends(Child);

impl Drop for Ends {
    fn drop(&mut self) {
        // It may have ended by itself.
        let _ = self.0.kill();
        let _ = self.0.wait();
    }
}

/// A display server of our own; `None` where there is none to start.
fn display() -> Option<(Ends, String)> {
    let server = Command::new("Xvfb")
        .args(["-displayfd", "1", "-screen", "0", "1600x1000x24"])
        .args(["-nolisten", "tcp"])
        .stdout(Stdio::piped())
        .stderr(Stdio::null())
        .spawn()
        .ok()?;
    let mut server = Ends(server);
    let mut number = String::new();
    let out = server.0.stdout.take().unwrap();
    std::io::BufReader::new(out).read_line(&mut number).unwrap();
    let number = number.trim();
    assert!(!number.is_empty(), "Xvfb found no free display");
    Some((server, format!(":{number}")))
}

fn wait_until<T>(what: &str, mut found: impl FnMut() -> Option<T>) -> T {
    let begun = Instant::now();
    loop {
        if let Some(found) = found() {
            return found;
        }
        assert!(begun.elapsed() < PATIENCE, "waited in vain until {what}");
        std::thread::sleep(Duration::from_millis(100));
    }
}

/// The window whose name ends with the program's.
fn find(connection: &RustConnection, root: Window) -> Option<Window> {
    let children = connection.query_tree(root).ok()?.reply().ok()?.children;
    children.into_iter().find(|window| {
        let name = connection
            .get_property(false, *window, AtomEnum::WM_NAME, AtomEnum::ANY, 0, 256)
            .ok()
            .and_then(|cookie| cookie.reply().ok());
        let shown = connection
            .get_window_attributes(*window)
            .ok()
            .and_then(|cookie| cookie.reply().ok());
        name.is_some_and(|name| name.value.ends_with(b"Wyebench"))
            && shown.is_some_and(|shown| shown.map_state == MapState::VIEWABLE)
    })
}

/// Pixels of the window, 4 bytes each, and its width and height.
fn picture(connection: &RustConnection, window: Window) -> Option<(Vec<u8>, [u16; 2])> {
    let place = connection.get_geometry(window).ok()?.reply().ok()?;
    let (width, height) = (place.width, place.height);
    let image = connection
        .get_image(ImageFormat::Z_PIXMAP, window, 0, 0, width, height, !0)
        .ok()?
        .reply()
        .ok()?;
    Some((image.data, [width, height]))
}

/// A picture on which something is drawn: many colours, and of the wanted size.
fn drawn(connection: &RustConnection, window: Window, size: [u16; 2]) -> Option<Vec<u8>> {
    let (pixels, got) = picture(connection, window)?;
    let mut colours: Vec<&[u8]> = pixels.chunks_exact(4).collect();
    colours.sort_unstable();
    colours.dedup();
    (got == size && colours.len() > 200).then_some(pixels)
}

/// Pixels that differ within a part of the window, given as shares of its sides.
fn differing(a: &[u8], b: &[u8], [width, height]: [u16; 2], part: [f64; 4]) -> usize {
    let [left, top, right, bottom] = part;
    let (width, height) = (usize::from(width), usize::from(height));
    let inside = |idx: usize| {
        let x = (idx % width) as f64 / width as f64;
        let y = (idx / width) as f64 / height as f64;
        x >= left && x < right && y >= top && y < bottom
    };
    a.chunks_exact(4)
        .zip(b.chunks_exact(4))
        .enumerate()
        .filter(|(idx, (a, b))| a != b && inside(*idx))
        .count()
}

fn resize(connection: &RustConnection, window: Window, [width, height]: [u16; 2]) {
    let size = ConfigureWindowAux::new()
        .width(u32::from(width))
        .height(u32::from(height));
    connection.configure_window(window, &size).unwrap();
    connection.flush().unwrap();
}

/// Asks the program to close its window, as the cross in a window's corner does (ICCCM 4.2.8.1).
fn close(connection: &RustConnection, window: Window) {
    let atom = |name: &[u8]| {
        let cookie = connection.intern_atom(false, name).unwrap();
        cookie.reply().unwrap().atom
    };
    let data = [atom(b"WM_DELETE_WINDOW"), x11rb::CURRENT_TIME, 0, 0, 0];
    let message = ClientMessageEvent::new(32, window, atom(b"WM_PROTOCOLS"), data);
    connection
        .send_event(false, window, EventMask::NO_EVENT, message)
        .unwrap();
    connection.flush().unwrap();
}

#[test]
fn it_opens_turns_bears_resizing_and_closes_in_a_run() {
    let Some((_server, display)) = display() else {
        println!("skipped: there is no Xvfb here (Debian: xvfb), so no window was opened");
        return;
    };
    let folder = tempfile::tempdir().unwrap();
    let program = Command::new(env!("CARGO_BIN_EXE_wyebench"))
        .current_dir(folder.path())
        .env("DISPLAY", &display)
        .env("XDG_RUNTIME_DIR", folder.path())
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .spawn()
        .unwrap();
    let mut program = Ends(program);
    let (connection, screen) = x11rb::connect(Some(&display)).unwrap();
    let root = connection.setup().roots[screen].root;

    let begun = Instant::now();
    let window = wait_until("the window is there", || find(&connection, root));
    let usual = picture(&connection, window).unwrap().1;
    let first = wait_until("something is drawn", || drawn(&connection, window, usual));
    println!("drawn after {:.1} s", begun.elapsed().as_secs_f64());

    // It runs from the start: where the rotor is, the picture changes; the title does not.
    let rotor = [0.05, 0.08, 0.55, 0.75];
    let title = [0.0, 0.0, 0.3, 0.04];
    let later = wait_until("the rotor has turned", || {
        let later = drawn(&connection, window, usual)?;
        (differing(&first, &later, usual, rotor) > 2_000).then_some(later)
    });
    assert_eq!(
        differing(&first, &later, usual, title),
        0,
        "the title is still"
    );

    // As small as a window can be, and back; then larger than at first.
    for size in [[1, 1], usual, [1500, 900], [1, 400], usual] {
        resize(&connection, window, size);
        if size[0] > 1 {
            wait_until("it is drawn at its new size", || {
                drawn(&connection, window, size)
            });
        } else {
            std::thread::sleep(Duration::from_millis(700));
        }
        assert_eq!(
            program.0.try_wait().unwrap(),
            None,
            "it runs on at {size:?}"
        );
    }

    // Put away and fetched back.
    connection.unmap_window(window).unwrap();
    connection.flush().unwrap();
    std::thread::sleep(Duration::from_millis(700));
    assert_eq!(program.0.try_wait().unwrap(), None, "it runs on unseen");
    connection.map_window(window).unwrap();
    connection.flush().unwrap();
    let back = wait_until("it is drawn again", || drawn(&connection, window, usual));
    wait_until("it turns again", || {
        let later = drawn(&connection, window, usual)?;
        (differing(&back, &later, usual, rotor) > 2_000).then_some(())
    });

    // Closed in the middle of the run.
    close(&connection, window);
    let status = wait_until("it has ended", || program.0.try_wait().unwrap());
    assert!(status.success(), "{status}");
    let left: Vec<_> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .filter(|name| name == "wyebench-out")
        .collect();
    assert!(left.is_empty(), "a window that opened writes no files");
}
