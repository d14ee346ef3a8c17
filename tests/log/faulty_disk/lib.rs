//! A disk that fails at one operation, or tells each: a library to be loaded before the C library, so
//! that it stands under the program, the standard library and the database alike. Built by the tests
//! that use it (`tests/log/faults.rs`); Linux alone.
//!
//! * `FAULTY_FOLDER`: the folder whose files it is about.
//! * `FAULTY_AT`: the operation that fails, counted from 1.
//! * `FAULTY_HOW`: `error` (EIO), `full` (ENOSPC), or `short`: half of what is to be written goes in,
//!   and then the disk is full.
//! * `FAULTY_TRACE`: a file to which every operation that was done is appended.
//! * `FAULTY_TIME`: the time of day that it is, in seconds since 1970; chance begins the same then, so that
//!   what is written is the same each time.
//!
//! An operation is what changes the folder: a file made, written, cut, synced, renamed or removed; a
//! folder made or synced.

#![allow(clippy::missing_safety_doc)]

use std::ffi::{CStr, CString, c_char, c_int, c_uint, c_void};
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

unsafe extern "C" {
    fn dlsym(handle: *mut c_void, name: *const c_char) -> *mut c_void;
    fn readlink(path: *const c_char, buffer: *mut c_char, size: usize) -> isize;
    fn __errno_location() -> *mut c_int;
    fn lseek64(fd: c_int, offset: i64, whence: c_int) -> i64;
}

/// Values of Linux (asm-generic), from memory.
const EIO: c_int = 5;
const ENOSPC: c_int = 28;
const O_CREAT: c_int = 0o100;
const O_WRONLY: c_int = 1;
const O_APPEND: c_int = 0o2000;
const SEEK_CUR: c_int = 1;
const CLOCK_REALTIME: c_int = 0;
const RTLD_NEXT: *mut c_void = -1_isize as *mut c_void;

type Open = unsafe extern "C" fn(*const c_char, c_int, c_uint) -> c_int;
type Write = unsafe extern "C" fn(c_int, *const c_void, usize) -> isize;
type WriteAt = unsafe extern "C" fn(c_int, *const c_void, usize, i64) -> isize;
type OfFd = unsafe extern "C" fn(c_int) -> c_int;
type Cut = unsafe extern "C" fn(c_int, i64) -> c_int;
type OfPath = unsafe extern "C" fn(*const c_char) -> c_int;
type OfPaths = unsafe extern "C" fn(*const c_char, *const c_char) -> c_int;
type Make = unsafe extern "C" fn(*const c_char, c_uint) -> c_int;
type Clock = unsafe extern "C" fn(c_int, *mut Moment) -> c_int;
type TimeOfDay = unsafe extern "C" fn(*mut Moment, *mut c_void) -> c_int;

struct Settings {
    folder: Vec<u8>,
    at: u64,
    how: Vec<u8>,
    trace: Option<c_int>,
    time_s: Option<i64>,
}

static DONE: AtomicU64 = AtomicU64::new(0);
static IS_FULL: AtomicBool = AtomicBool::new(false);

fn settings() -> &'static Settings {
    static SETTINGS: OnceLock<Settings> = OnceLock::new();
    SETTINGS.get_or_init(|| {
        use std::os::unix::ffi::OsStringExt;
        let variable = |name| std::env::var_os(name).map(OsStringExt::into_vec);
        let trace = variable("FAULTY_TRACE").and_then(|path| CString::new(path).ok());
        let at = variable("FAULTY_AT").and_then(|at| String::from_utf8(at).ok()?.parse().ok());
        Settings {
            folder: variable("FAULTY_FOLDER").unwrap_or_else(|| b"/nowhere/".to_vec()),
            at: at.unwrap_or(u64::MAX),
            how: variable("FAULTY_HOW").unwrap_or_default(),
            time_s: variable("FAULTY_TIME").and_then(|at| String::from_utf8(at).ok()?.parse().ok()),
            trace: trace.map(|path| unsafe {
                real::<Open>(c"open64")(path.as_ptr(), O_CREAT | O_WRONLY | O_APPEND, 0o666)
            }),
        }
    })
}

/// The C library's own.
unsafe fn real<F: Copy>(name: &CStr) -> F {
    unsafe {
        let found = dlsym(RTLD_NEXT, name.as_ptr());
        assert!(!found.is_null());
        std::mem::transmute_copy(&found)
    }
}

unsafe fn bytes_of(path: *const c_char) -> Vec<u8> {
    unsafe { CStr::from_ptr(path) }.to_bytes().to_vec()
}

fn is_ours(path: &[u8]) -> bool {
    path.starts_with(&settings().folder)
}

/// What an open file is called.
fn path_of(fd: c_int) -> Vec<u8> {
    let link = CString::new(format!("/proc/self/fd/{fd}")).unwrap_or_default();
    let mut buffer = vec![0_u8; 4096];
    let length = unsafe { readlink(link.as_ptr(), buffer.as_mut_ptr().cast(), buffer.len()) };
    buffer.truncate(usize::try_from(length).unwrap_or(0));
    buffer
}

/// What becomes of the next operation.
enum Fate {
    Done,
    Short,
    Failed,
}

fn fate() -> Fate {
    let number = DONE.fetch_add(1, Ordering::SeqCst) + 1;
    let settings = settings();
    let error = match (number == settings.at, settings.how.as_slice()) {
        (true, b"error") => EIO,
        (true, b"full") => ENOSPC,
        (true, _) => {
            IS_FULL.store(true, Ordering::SeqCst);
            return Fate::Short;
        }
        (false, _) => return Fate::Done,
    };
    unsafe { *__errno_location() = error };
    Fate::Failed
}

/// An operation that cannot be done by half.
fn is_refused() -> bool {
    match fate() {
        Fate::Done => false,
        Fate::Failed => true,
        Fate::Short => {
            unsafe { *__errno_location() = ENOSPC };
            true
        }
    }
}

/// Tells what was done: a letter, one or two names, a place, and bytes.
fn tell(what: u8, paths: [&[u8]; 2], at: u64, bytes: &[u8]) {
    let Some(trace) = settings().trace else { return };
    let mut record = vec![what];
    for part in [paths[0], paths[1], bytes] {
        record.extend_from_slice(&(part.len() as u64).to_le_bytes());
        record.extend_from_slice(part);
    }
    record.extend_from_slice(&at.to_le_bytes());
    unsafe { real::<Write>(c"write")(trace, record.as_ptr().cast(), record.len()) };
}

unsafe fn open_as(name: &CStr, path: *const c_char, flags: c_int, mode: c_uint) -> c_int {
    unsafe {
        let whole = bytes_of(path);
        if settings().time_s.is_some() && whole == b"/dev/urandom" {
            return real::<Open>(name)(c"/dev/zero".as_ptr(), flags, mode);
        }
        let makes = flags & O_CREAT != 0 && is_ours(&whole);
        if makes && is_refused() {
            return -1;
        }
        let fd = real::<Open>(name)(path, flags, mode);
        if makes && fd >= 0 {
            tell(b'o', [&whole, b""], 0, b"");
        }
        fd
    }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn open(path: *const c_char, flags: c_int, mode: c_uint) -> c_int {
    unsafe { open_as(c"open", path, flags, mode) }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn open64(path: *const c_char, flags: c_int, mode: c_uint) -> c_int {
    unsafe { open_as(c"open64", path, flags, mode) }
}

unsafe fn write_as(
    fd: c_int,
    bytes: *const c_void,
    count: usize,
    at: Option<u64>,
    write: impl Fn(usize) -> isize,
) -> isize {
    unsafe {
        if fd == 1 && settings().trace.is_some() {
            tell(b'a', [b"", b""], 0, b"");
        }
        let path = path_of(fd);
        if !is_ours(&path) || count == 0 {
            return write(count);
        }
        let mut most = count;
        match fate() {
            Fate::Done if IS_FULL.load(Ordering::SeqCst) => {
                *__errno_location() = ENOSPC;
                return -1;
            }
            Fate::Done => {}
            Fate::Failed => return -1,
            Fate::Short => most = (count / 2).max(1),
        }
        let at = at.unwrap_or_else(|| lseek64(fd, 0, SEEK_CUR) as u64);
        let written = write(most);
        if let Ok(written) = usize::try_from(written) {
            tell(b'w', [&path, b""], at, std::slice::from_raw_parts(bytes.cast(), written));
        }
        written
    }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn write(fd: c_int, bytes: *const c_void, count: usize) -> isize {
    unsafe { write_as(fd, bytes, count, None, |most| real::<Write>(c"write")(fd, bytes, most)) }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn pwrite(fd: c_int, bytes: *const c_void, count: usize, at: i64) -> isize {
    unsafe { pwrite64(fd, bytes, count, at) }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn pwrite64(fd: c_int, bytes: *const c_void, count: usize, at: i64) -> isize {
    unsafe {
        let write = |most| real::<WriteAt>(c"pwrite64")(fd, bytes, most, at);
        write_as(fd, bytes, count, Some(at as u64), write)
    }
}

unsafe fn of_fd(name: &CStr, what: u8, fd: c_int) -> c_int {
    unsafe {
        let path = path_of(fd);
        if is_ours(&path) && is_refused() {
            return -1;
        }
        let result = real::<OfFd>(name)(fd);
        if result == 0 && is_ours(&path) {
            tell(what, [&path, b""], 0, b"");
        }
        result
    }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn fsync(fd: c_int) -> c_int {
    unsafe { of_fd(c"fsync", b's', fd) }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn fdatasync(fd: c_int) -> c_int {
    unsafe { of_fd(c"fdatasync", b's', fd) }
}

unsafe fn cut(name: &CStr, fd: c_int, length: i64) -> c_int {
    unsafe {
        let path = path_of(fd);
        if is_ours(&path) && is_refused() {
            return -1;
        }
        let result = real::<Cut>(name)(fd, length);
        if result == 0 && is_ours(&path) {
            tell(b't', [&path, b""], length as u64, b"");
        }
        result
    }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn ftruncate(fd: c_int, length: i64) -> c_int {
    unsafe { cut(c"ftruncate", fd, length) }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn ftruncate64(fd: c_int, length: i64) -> c_int {
    unsafe { cut(c"ftruncate64", fd, length) }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn rename(from: *const c_char, to: *const c_char) -> c_int {
    unsafe {
        let paths = [bytes_of(from), bytes_of(to)];
        let is_ours = paths.iter().any(|path| is_ours(path));
        if is_ours && is_refused() {
            return -1;
        }
        let result = real::<OfPaths>(c"rename")(from, to);
        if result == 0 && is_ours {
            tell(b'r', [&paths[0], &paths[1]], 0, b"");
        }
        result
    }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn unlink(path: *const c_char) -> c_int {
    unsafe {
        let whole = bytes_of(path);
        if is_ours(&whole) && is_refused() {
            return -1;
        }
        let result = real::<OfPath>(c"unlink")(path);
        if result == 0 && is_ours(&whole) {
            tell(b'u', [&whole, b""], 0, b"");
        }
        result
    }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn mkdir(path: *const c_char, mode: c_uint) -> c_int {
    unsafe {
        let whole = bytes_of(path);
        if is_ours(&whole) && is_refused() {
            return -1;
        }
        let result = real::<Make>(c"mkdir")(path, mode);
        if result == 0 && is_ours(&whole) {
            tell(b'd', [&whole, b""], 0, b"");
        }
        result
    }
}

/// Seconds, and a part of one, as the C library has them.
#[repr(C)]
pub struct Moment {
    seconds: i64,
    part: i64,
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn clock_gettime(clock: c_int, moment: *mut Moment) -> c_int {
    unsafe {
        let result = real::<Clock>(c"clock_gettime")(clock, moment);
        if let (CLOCK_REALTIME, Some(seconds)) = (clock, settings().time_s) {
            *moment = Moment { seconds, part: 0 };
        }
        result
    }
}

#[unsafe(no_mangle)]
pub unsafe extern "C" fn gettimeofday(moment: *mut Moment, zone: *mut c_void) -> c_int {
    unsafe {
        let result = real::<TimeOfDay>(c"gettimeofday")(moment, zone);
        if let Some(seconds) = settings().time_s {
            *moment = Moment { seconds, part: 0 };
        }
        result
    }
}
