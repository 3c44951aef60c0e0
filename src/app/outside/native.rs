//! A desktop: files, the system's dialogs and window.

use std::fs;
use std::future::Future;
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};
use std::pin::Pin;

use egui::{Context, DroppedFileHandle, ViewportCommand};

use super::{Brought, Purpose};

/// True where setups are files at paths; else they lie by name in the browser's storage, and go
/// out and in as copies.
pub(in crate::app) const FILES: bool = true;
/// What a setup lies at.
pub(in crate::app) const PLACE: &str = "Path";
/// Where nothing lies at a place.
pub(in crate::app) const NOTHING_HERE: &str = "No setup and no folder lies here.";
/// The dialog beside our own, and what it is for.
pub(in crate::app) const BROWSE: [&str; 2] = [
    "System dialog",
    "Ask with the system's own dialog, where it has one",
];

/// What a dialog will bring.
pub(in crate::app) type Bringing = Pin<Box<dyn Future<Output = Option<Brought>>>>;

/// Asks for a setup to open.
pub(in crate::app) fn pick(folder: &Path) -> Bringing {
    path_of(dialog(folder).pick_file())
}

/// Asks for a name to save under.
pub(in crate::app) fn pick_name(folder: &Path, name: &str) -> Bringing {
    path_of(dialog(folder).set_file_name(name).save_file())
}

/// Asks for a table of values.
pub(in crate::app) fn pick_table(folder: &Path) -> Bringing {
    let dialog = rfd::AsyncFileDialog::new()
        .set_title("Table")
        .set_directory(folder)
        .add_filter("Comma-separated values", &["csv", "txt", "tsv"]);
    path_of(dialog.pick_file())
}

/// What was dropped in.
pub(in crate::app) fn dropped(file: &DroppedFileHandle, _purpose: Purpose) -> Bringing {
    let path = file.path().to_path_buf();
    Box::pin(std::future::ready(Some(Brought::Path(path))))
}

fn dialog(folder: &Path) -> rfd::AsyncFileDialog {
    rfd::AsyncFileDialog::new()
        .set_title("Setup")
        .set_directory(folder)
        .add_filter("Setups", &["toml"])
}

fn path_of(picked: impl Future<Output = Option<rfd::FileHandle>> + 'static) -> Bringing {
    Box::pin(async {
        let file = picked.await?;
        Some(Brought::Path(file.path().to_path_buf()))
    })
}

/// Size of a file in bytes, `None` for a folder.
///
/// # Errors
/// What the file system says.
pub(in crate::app) fn size(path: &Path) -> io::Result<Option<u64>> {
    let known = fs::metadata(path)?;
    Ok((!known.is_dir()).then_some(known.len()))
}

/// All of a file.
///
/// # Errors
/// What the file system says.
pub(in crate::app) fn read(path: &Path) -> io::Result<Vec<u8>> {
    fs::read(path)
}

/// True where something lies at a path.
pub(in crate::app) fn exists(path: &Path) -> bool {
    path.exists()
}

/// True for a folder.
pub(in crate::app) fn is_folder(path: &Path) -> bool {
    path.is_dir()
}

/// The one path of a file, whichever way leads to it.
pub(in crate::app) fn one_path(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| path.to_path_buf())
}

/// Where a dialog begins when nothing better is known.
pub(in crate::app) fn start_folder() -> PathBuf {
    std::env::current_dir().unwrap_or_else(|_| PathBuf::from("."))
}

/// What lies in a folder. Nothing where it cannot be read.
pub(in crate::app) fn list(folder: &Path) -> impl Iterator<Item = PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    entries.map(|entry| entry.path())
}

/// Makes a folder and those above it.
///
/// # Errors
/// What the file system says.
pub(in crate::app) fn make_folder(folder: &Path) -> io::Result<()> {
    fs::create_dir_all(folder)
}

/// Writes a text to a file, whole or not at all.
///
/// # Errors
/// What the file system says.
pub(in crate::app) fn write_whole(path: &Path, text: &str) -> io::Result<()> {
    // A link stays a link: what it points to is replaced.
    let path = one_path(path);
    let folder = match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder.to_path_buf(),
        _ => PathBuf::from("."),
    };
    let mut builder = tempfile::Builder::new();
    builder.prefix(".wyebench-");
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let as_new = || fs::Permissions::from_mode(0o666);
        builder.permissions(fs::metadata(&path).map_or_else(|_| as_new(), |old| old.permissions()));
    }
    if fs::metadata(&path).is_ok_and(|old| old.permissions().readonly()) {
        return Err(io::Error::new(
            io::ErrorKind::PermissionDenied,
            "the file may only be read",
        ));
    }
    let mut file = builder.tempfile_in(folder)?;
    file.write_all(text.as_bytes())?;
    file.as_file().sync_all()?;
    file.persist(path)?;
    Ok(())
}

/// Gives a copy of a text out of the browser; on a desktop a dialog does it.
pub(in crate::app) const fn hand_out(_name: &str, _text: &str) {}

/// Calls the window by that name.
pub(in crate::app) fn entitle(ctx: &Context, title: String) {
    ctx.send_viewport_cmd(ViewportCommand::Title(title));
}

/// True while the window fills the screen.
pub(in crate::app) fn fills_screen(ctx: &Context) -> bool {
    ctx.input(|input| input.viewport().fullscreen.unwrap_or(false))
}

/// Lets the window fill the screen, or not.
pub(in crate::app) fn fill_screen(ctx: &Context, fill: bool) {
    ctx.send_viewport_cmd(ViewportCommand::Fullscreen(fill));
}

/// What follows the `#` of the page's address; a window has none.
pub(in crate::app) const fn address() -> Option<String> {
    None
}

/// Puts what follows the `#` into the page's address.
pub(in crate::app) const fn set_address(_fragment: &str) {}

/// The address of the page with something after the `#`; a window has none.
pub(in crate::app) const fn link(_fragment: &str) -> Option<String> {
    None
}

/// A clock for how long a frame may take, in s; a desktop's frame has none.
pub(in crate::app) const fn clock_s() -> f64 {
    0.0
}

/// Pieces of a solution between two looks at that clock.
pub(super) const PIECES_PER_LOOK: u32 = u32::MAX;
