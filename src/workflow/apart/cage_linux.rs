//! The walls that Linux offers: Landlock round files and network, seccomp before
//! the kernel's calls. Both hold for this thread and all that it starts.

use std::collections::BTreeMap;
use std::path::Path;

use landlock::{
    ABI, Access, AccessFs, AccessNet, PathBeneath, PathFd, RestrictionStatus, Ruleset, RulesetAttr,
    RulesetCreatedAttr, RulesetError, RulesetStatus, Scope,
};
use seccompiler::SeccompCmpArgLen::Dword;
use seccompiler::SeccompCmpOp::{MaskedEq, Ne};
use seccompiler::{
    BpfProgram, SeccompAction, SeccompCondition, SeccompFilter, SeccompRule, TargetArch,
};

/// Leaves nothing of the file system but these files, to be read.
pub(super) fn wall_in(readable: &[&Path]) -> Result<(), String> {
    match walled(readable) {
        Ok(status) if status.ruleset != RulesetStatus::NotEnforced => Ok(()),
        Ok(_) => Err("this kernel has no Landlock: other files are not walled off".to_owned()),
        Err(error) => Err(format!("other files are not walled off: {error}")),
    }
}

fn walled(readable: &[&Path]) -> Result<RestrictionStatus, RulesetError> {
    // What a kernel knows of this is taken, the rest left out.
    let abi = ABI::V6;
    let mut rules = Ruleset::default()
        .handle_access(AccessFs::from_all(abi))?
        .handle_access(AccessNet::from_all(abi))?
        .scope(Scope::from_all(abi))?
        .create()?;
    // A rule on a folder would hold for all that is in it.
    for path in readable.iter().filter(|path| path.is_file()) {
        // One that cannot be named cannot be opened either.
        if let Ok(file) = PathFd::new(path) {
            rules = rules.add_rule(PathBeneath::new(file, AccessFs::ReadFile))?;
        }
    }
    rules.restrict_self()
}

/// Has the kernel refuse what a decoder never needs.
pub(super) fn refuse_calls() -> Result<(), String> {
    let filters = filters().map_err(|error| format!("calls are not filtered: {error}"))?;
    for filter in &filters {
        seccompiler::apply_filter(filter)
            .map_err(|error| format!("this kernel filters no calls: {error}"))?;
    }
    Ok(())
}

/// Two filters, since each refuses with one error only: "not permitted", and "not
/// known here", after which the C library does it in an older way that the first
/// filter can judge.
fn filters() -> Result<[BpfProgram; 2], seccompiler::BackendError> {
    let arch = TargetArch::try_from(std::env::consts::ARCH)?;
    let build = |rules, errno: i32| {
        let refuse = SeccompAction::Errno(errno.unsigned_abs());
        SeccompFilter::new(rules, SeccompAction::Allow, refuse, arch)?.try_into()
    };
    let unknown = UNKNOWN.iter().map(|&call| (call, Vec::new())).collect();
    Ok([
        build(refused()?, libc::EPERM)?,
        build(unknown, libc::ENOSYS)?,
    ])
}

type Rules = BTreeMap<i64, Vec<SeccompRule>>;

/// The calls that are refused, some of them only with certain arguments.
fn refused() -> Result<Rules, seccompiler::BackendError> {
    let mut rules: Rules = REFUSED.iter().map(|&call| (call, Vec::new())).collect();
    #[cfg(target_arch = "x86_64")]
    rules.extend(OLD_CALLS.iter().map(|&call| (call, Vec::new())));
    let rule = |at, op, value| {
        let condition = SeccompCondition::new(at, Dword, op, value)?;
        SeccompRule::new(vec![condition])
    };
    // Opening to write, or to make a file. The flags' numbers are never negative.
    let writing = |at: u8| -> Result<Vec<SeccompRule>, seccompiler::BackendError> {
        let number = |flag: i32| u64::from(flag.unsigned_abs());
        let mode = number(libc::O_ACCMODE);
        let mut all = Vec::new();
        for flag in [libc::O_WRONLY, libc::O_RDWR] {
            all.push(rule(at, MaskedEq(mode), number(flag))?);
        }
        for flag in [libc::O_CREAT, libc::O_TRUNC] {
            all.push(rule(at, MaskedEq(number(flag)), number(flag))?);
        }
        Ok(all)
    };
    rules.insert(libc::SYS_openat, writing(2)?);
    #[cfg(target_arch = "x86_64")]
    rules.insert(libc::SYS_open, writing(1)?);
    // Threads may be started, processes may not.
    let thread = u64::from(libc::CLONE_THREAD.unsigned_abs());
    rules.insert(libc::SYS_clone, vec![rule(0, MaskedEq(thread), 0)?]);
    // Signals to itself, as when it gives up, and to nobody else.
    let own = u64::from(std::process::id());
    rules.insert(libc::SYS_tgkill, vec![rule(0, Ne, own)?]);
    Ok(rules)
}

/// Calls with arguments that no filter can see into; older ones do the same.
const UNKNOWN: [i64; 3] = [
    libc::SYS_clone3,
    libc::SYS_openat2,
    libc::SYS_io_uring_setup,
];

const REFUSED: [i64; 62] = [
    // The network, and whatever else has an address.
    libc::SYS_socket,
    libc::SYS_socketpair,
    libc::SYS_connect,
    libc::SYS_bind,
    libc::SYS_listen,
    libc::SYS_accept,
    libc::SYS_accept4,
    libc::SYS_sendto,
    libc::SYS_sendmsg,
    libc::SYS_sendmmsg,
    libc::SYS_recvmsg,
    libc::SYS_recvmmsg,
    // Other programs and processes.
    libc::SYS_execve,
    libc::SYS_execveat,
    libc::SYS_ptrace,
    libc::SYS_process_vm_readv,
    libc::SYS_process_vm_writev,
    libc::SYS_pidfd_getfd,
    libc::SYS_pidfd_send_signal,
    libc::SYS_kill,
    libc::SYS_tkill,
    libc::SYS_rt_sigqueueinfo,
    libc::SYS_rt_tgsigqueueinfo,
    libc::SYS_unshare,
    libc::SYS_setns,
    // Memory and queues that are shared by name.
    libc::SYS_shmget,
    libc::SYS_shmat,
    libc::SYS_msgget,
    libc::SYS_semget,
    libc::SYS_mq_open,
    // Files: made, renamed, removed, changed.
    libc::SYS_mkdirat,
    libc::SYS_mknodat,
    libc::SYS_unlinkat,
    libc::SYS_renameat2,
    libc::SYS_linkat,
    libc::SYS_symlinkat,
    libc::SYS_truncate,
    libc::SYS_ftruncate,
    libc::SYS_fallocate,
    libc::SYS_fchmod,
    libc::SYS_fchmodat,
    libc::SYS_fchown,
    libc::SYS_fchownat,
    libc::SYS_utimensat,
    libc::SYS_setxattr,
    libc::SYS_lsetxattr,
    libc::SYS_fsetxattr,
    libc::SYS_open_by_handle_at,
    // The system itself.
    libc::SYS_mount,
    libc::SYS_umount2,
    libc::SYS_pivot_root,
    libc::SYS_chroot,
    libc::SYS_swapon,
    libc::SYS_reboot,
    libc::SYS_init_module,
    libc::SYS_finit_module,
    libc::SYS_bpf,
    libc::SYS_perf_event_open,
    libc::SYS_userfaultfd,
    libc::SYS_keyctl,
    libc::SYS_add_key,
    libc::SYS_request_key,
];

/// Older forms, which newer machines no longer have.
#[cfg(target_arch = "x86_64")]
const OLD_CALLS: [i64; 14] = [
    libc::SYS_creat,
    libc::SYS_fork,
    libc::SYS_vfork,
    libc::SYS_mkdir,
    libc::SYS_mknod,
    libc::SYS_unlink,
    libc::SYS_rmdir,
    libc::SYS_rename,
    libc::SYS_renameat,
    libc::SYS_link,
    libc::SYS_symlink,
    libc::SYS_chmod,
    libc::SYS_chown,
    libc::SYS_lchown,
];

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs::{self, File, OpenOptions};
    use std::io::ErrorKind::PermissionDenied;
    use std::net::{TcpListener, TcpStream, UdpSocket};
    use std::os::unix::net::UnixStream;
    use std::process::Command;

    /// Walls hold for a thread and what it starts, so one thread can try them.
    fn inside<T: Send>(wall: impl FnOnce() + Send, try_out: impl FnOnce() -> T + Send) -> T {
        std::thread::scope(|scope| {
            let thread = scope.spawn(|| {
                wall();
                // So does a thread that is started inside.
                std::thread::scope(|scope| scope.spawn(try_out).join().unwrap())
            });
            thread.join().unwrap()
        })
    }

    fn refused_with<T>(done: std::io::Result<T>) -> std::io::ErrorKind {
        done.map(|_| ()).unwrap_err().kind()
    }

    #[test]
    fn the_wall_leaves_the_clip_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let [clip, other, link] = ["clip", "other", "link"].map(|name| folder.path().join(name));
        fs::write(&clip, "film").unwrap();
        fs::write(&other, "diary").unwrap();
        std::os::unix::fs::symlink(&other, &link).unwrap();
        let wall = || match wall_in(&[&clip, folder.path(), &folder.path().join("absent")]) {
            Ok(()) => {}
            Err(remark) => panic!("{remark}"),
        };
        inside(wall, || {
            assert_eq!(fs::read(&clip).unwrap(), b"film");
            for secret in [&other, &link, Path::new("/etc/passwd")] {
                assert_eq!(refused_with(File::open(secret)), PermissionDenied);
            }
            assert_eq!(refused_with(fs::read_dir(folder.path())), PermissionDenied);
            let write = OpenOptions::new().append(true).open(&clip);
            assert_eq!(refused_with(write), PermissionDenied);
            let new = File::create(folder.path().join("new"));
            assert_eq!(refused_with(new), PermissionDenied);
            assert_eq!(refused_with(fs::remove_file(&clip)), PermissionDenied);
        });
    }

    #[test]
    fn calls_that_reach_outside_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("file");
        fs::write(&file, "text").unwrap();
        inside(
            || refuse_calls().unwrap(),
            || {
                assert_eq!(fs::read(&file).unwrap(), b"text");
                let refused = [
                    refused_with(TcpListener::bind("127.0.0.1:0")),
                    refused_with(TcpStream::connect("127.0.0.1:9")),
                    refused_with(UdpSocket::bind("127.0.0.1:0")),
                    refused_with(UnixStream::pair()),
                    refused_with(Command::new("true").spawn()),
                    refused_with(File::create(folder.path().join("new"))),
                    refused_with(OpenOptions::new().write(true).open(&file)),
                    refused_with(fs::rename(&file, folder.path().join("moved"))),
                    refused_with(fs::remove_file(&file)),
                    refused_with(fs::create_dir(folder.path().join("folder"))),
                ];
                assert_eq!(refused, [PermissionDenied; 10]);
            },
        );
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }
}
