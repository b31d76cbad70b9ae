//! What the child gives up before it opens the clip.
//!
//! Limits on memory, computing time, open files, and no file writing hold on every
//! Unix. On Linux the kernel also refuses it everything outside the clip and the patch
//! kept beside it (Landlock), and all calls that reach the network, other processes
//! or other people's files (seccomp). Where a kernel has none of that the child says
//! so, and goes on with what there is.
//!
//! Calls are refused, not ended with a signal, and what is not on the list is
//! allowed: C libraries of other versions use other calls for the same harmless
//! things, and a clip that cannot be measured for that reason helps nobody.

use std::path::Path;

use serde::{Deserialize, Serialize};

/// Memory of a child in MiB without its threads, ...
const MEMORY_MIB: u64 = 2048;
/// ... and what each thread may add: a decoder of 8K keeps some 20 pictures of
/// 100 MB, and as many of 4K take 25 MB each.
const MEMORY_PER_THREAD_MIB: u64 = 512;
/// Threads beyond this add no memory.
const MOST_THREADS: u64 = 16;
/// Computing time in seconds of a clip of no size, ...
const CPU_S: u64 = 120;
/// ... and for each begun MiB of it. A phone's clip of 240 frames a second took 0.5
/// to 1 s for each, watched once; up to seven looks are taken, and machines differ.
const CPU_PER_MIB_S: u64 = 60;
/// Silence that is borne, in seconds.
const SILENCE_S: u64 = 120;

/// What one child may use.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Limits {
    /// Memory in MiB.
    pub(super) memory_mib: u64,
    /// Computing time in seconds, of all threads together.
    pub(super) cpu_s: u64,
    /// Files open at once.
    pub(super) files: u64,
    /// How long it may say nothing, in seconds.
    pub(super) silence_s: u64,
}

impl Limits {
    /// The limits for the clip at `path` and so many threads, 0 for all cores.
    pub(super) fn of(path: &Path, threads: usize) -> Self {
        let threads = match threads {
            0 => std::thread::available_parallelism().map_or(1, usize::from),
            count => count,
        };
        let threads = u64::try_from(threads).unwrap_or(u64::MAX);
        let mib = std::fs::metadata(path).map_or(0, |data| data.len().div_ceil(1 << 20));
        let memory_mib = MEMORY_MIB + MEMORY_PER_THREAD_MIB * threads.min(MOST_THREADS);
        let cpu_s = CPU_S.saturating_add(CPU_PER_MIB_S.saturating_mul(mib));
        let (own_memory_mib, own_cpu_s) = own_limits();
        Self {
            memory_mib: memory_mib.min(own_memory_mib),
            cpu_s: cpu_s.min(own_cpu_s),
            files: 64 + 4 * threads.min(256),
            silence_s: SILENCE_S,
        }
    }
}

/// What this process itself may use, and so its children: memory in MiB and computing
/// time in seconds.
fn own_limits() -> (u64, u64) {
    #[cfg(unix)]
    {
        use rustix::process::{Resource, getrlimit};
        let most = |resource| getrlimit(resource).current.unwrap_or(u64::MAX);
        (most(Resource::Data) >> 20, most(Resource::Cpu))
    }
    #[cfg(not(unix))]
    (u64::MAX, u64::MAX)
}

/// Leaves the processor to whoever else wants it: a suggestion is nice to have, while
/// somebody waits for the pictures and the measurements.
pub(super) fn let_others_go_first() {
    // Where that is refused, both take longer.
    #[cfg(unix)]
    let _ = rustix::process::nice(10);
}

/// Locks this process in; `readable` files stay so. Gives what could not be had.
#[cfg(unix)]
pub(super) fn lock_in(limits: &Limits, readable: &[&Path]) -> Vec<String> {
    let mut remarks = Vec::new();
    // Ctrl-C reaches both; the parent then ends, and this process with it.
    let ignored = std::sync::Arc::default();
    let _ = signal_hook::flag::register(signal_hook::consts::SIGINT, ignored);
    remarks.extend(limit(limits).err());
    #[cfg(target_os = "linux")]
    {
        end_with_parent();
        remarks.extend(super::cage_linux::wall_in(readable).err());
        remarks.extend(super::cage_linux::refuse_calls().err());
    }
    #[cfg(not(target_os = "linux"))]
    {
        let _ = readable;
        remarks.push("this system cannot keep the decoder from files and network".to_owned());
    }
    remarks
}

/// Nothing of it can be had here.
#[cfg(not(unix))]
pub(super) fn lock_in(_: &Limits, _: &[&Path]) -> Vec<String> {
    vec!["this system sets the decoder no limits; it is only kept in a process of its own".into()]
}

/// Sets the limits, or leaves those that are lower already; once lowered they cannot
/// be raised again.
#[cfg(unix)]
fn limit(limits: &Limits) -> Result<(), String> {
    use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
    let set = |resource, most: u64, ends_at: u64| {
        let own = getrlimit(resource).maximum.unwrap_or(u64::MAX);
        let limit = Rlimit {
            current: Some(most.min(own)),
            maximum: Some(ends_at.min(own)),
        };
        setrlimit(resource, limit).map_err(|error| format!("a limit could not be set: {error}"))
    };
    // A core dump would hold pictures of whoever was filmed.
    set(Resource::Core, 0, 0)?;
    set(Resource::Fsize, 0, 0)?;
    set(Resource::Nofile, limits.files, limits.files)?;
    // The first of the two is told apart from other ends by its signal.
    set(Resource::Cpu, limits.cpu_s, limits.cpu_s.saturating_add(10))?;
    // Counts what can be written to and is no file; address space would count the
    // program and what its allocator only set aside.
    let memory = limits.memory_mib.saturating_mul(1 << 20);
    set(Resource::Data, memory, memory)
}

/// Ends this process when its parent ends, however that comes about.
#[cfg(target_os = "linux")]
fn end_with_parent() {
    use rustix::process::{Signal, set_parent_process_death_signal};
    // Where that is refused, writing to a parent that has gone ends it as well.
    let _ = set_parent_process_death_signal(Some(Signal::KILL));
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn limits_grow_with_size_and_threads_and_never_overflow() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("clip");
        let small = Limits::of(&path, 1);
        std::fs::File::create(&path)
            .and_then(|file| file.set_len(10 << 20))
            .unwrap();
        let large = Limits::of(&path, 4);
        assert_eq!((small.cpu_s, large.cpu_s), (120, 720));
        assert_eq!((small.memory_mib, large.memory_mib), (2560, 4096));
        assert_eq!(Limits::of(&path, usize::MAX).memory_mib, 10_240);
    }
}
