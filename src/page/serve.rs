//! Opening the page, and closing it.

use std::io;
use std::net::{IpAddr, Ipv4Addr, SocketAddr, UdpSocket};
use std::sync::Arc;
use std::time::Duration;

use tokio::net::TcpListener;
use tokio::sync::{Semaphore, watch};

use super::guard::Guard;
use super::private::PrivateFolder;
use super::projector::Projector;
use super::shelf::Shelf;
use super::{App, Settings, bench, join, routes};
use crate::report::model::Failure;

/// How long answers that are under way may take when the page closes.
const FAREWELL: Duration = Duration::from_secs(2);

/// What a person has to know of a page that was opened.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Opened {
    /// Address for a browser on this computer.
    pub address: String,
    /// Address for one phone, good once; `None` unless phones may come in.
    pub invitation: Option<String>,
    /// The same as a picture of squares, for a terminal.
    pub code: Option<String>,
}

/// Serves the page until the person ends it (ctrl-C). `tell` is told where it is, and
/// again whenever a phone has used its invitation up.
///
/// # Errors
/// When no port or folder can be had.
pub fn serve(
    settings: Settings,
    tell: impl Fn(&Opened) + Send + Sync + 'static,
) -> Result<(), Failure> {
    let runtime = tokio::runtime::Builder::new_multi_thread()
        .worker_threads(2)
        .max_blocking_threads(16)
        .enable_all()
        .build()
        .map_err(|error| Failure {
            message: format!("the page cannot be opened ({error})"),
            hint: "close other programs and try again".to_owned(),
        })?;
    let done = runtime.block_on(open(settings, Box::new(tell)));
    // A clip that is being measured is not waited for.
    runtime.shutdown_background();
    done
}

type Tell = Box<dyn Fn(&Opened) + Send + Sync>;

async fn open(settings: Settings, tell: Tell) -> Result<(), Failure> {
    let (listeners, port, phones) = listeners(&settings).await?;
    let mut hosts = vec![format!("127.0.0.1:{port}"), format!("localhost:{port}")];
    hosts.extend(phones.iter().cloned());
    // Goes when this function ends, whoever still holds the rest.
    let folder = PrivateFolder::make(&settings.folder)?;
    let app = Arc::new(App {
        guard: Arc::new(Guard::new(hosts, port)?),
        shelf: Arc::new(Shelf::new()),
        projector: Projector::new(settings.threads),
        folder: folder.path().to_owned(),
        opening: Semaphore::new(1),
        phones,
        settings,
    });
    start(&app)?;
    let (ending, ended) = watch::channel(false);
    let router = routes::router(&app);
    let mut serving = tokio::task::JoinSet::new();
    for listener in listeners {
        let router = router
            .clone()
            .into_make_service_with_connect_info::<SocketAddr>();
        let mut ended = ended.clone();
        let server = axum::serve(listener, router).with_graceful_shutdown(async move {
            let _ = ended.wait_for(|ended| *ended).await;
        });
        serving.spawn(async move { server.await });
    }
    tell(&join::opened(&app, port)?);
    let stop = stopped();
    tokio::pin!(stop);
    loop {
        tokio::select! {
            _ = &mut stop => break,
            _ = join::used(&app) => tell(&join::opened(&app, port)?),
        }
    }
    app.shelf.close();
    app.projector.close();
    let _ = ending.send(true);
    let _ = tokio::time::timeout(FAREWELL, serving.join_all()).await;
    Ok(())
}

/// Puts the clips given at the start on the shelf, and sets both threads to work.
fn start(app: &Arc<App>) -> Result<(), Failure> {
    for path in app.settings.clips.iter().rev() {
        let name = path.file_name().unwrap_or(path.as_os_str());
        let facts = std::fs::metadata(path).ok();
        let bytes = facts.as_ref().map_or(0, std::fs::Metadata::len);
        let modified = facts.and_then(|facts| facts.modified().ok());
        let name = name.to_string_lossy();
        let place = |_| (path.clone(), false);
        app.shelf.add(&name, bytes, modified, place);
    }
    let (shelf, threads) = (Arc::clone(&app.shelf), app.settings.threads);
    let projector = app.projector.clone();
    let thread = |name: &str| std::thread::Builder::new().name(name.to_owned());
    let measuring = thread("measuring").spawn(move || bench::run(&shelf, threads));
    let showing = thread("showing").spawn(move || projector.run());
    match measuring.and(showing) {
        Ok(_) => Ok(()),
        Err(error) => Err(Failure {
            message: format!("no thread can be started ({error})"),
            hint: "close other programs and try again".to_owned(),
        }),
    }
}

/// Ends when the person or the system asks for it.
async fn stopped() {
    #[cfg(unix)]
    {
        use tokio::signal::unix::{SignalKind, signal};
        if let Ok(mut asked) = signal(SignalKind::terminate()) {
            tokio::select! {
                _ = tokio::signal::ctrl_c() => {}
                _ = asked.recv() => {}
            }
            return;
        }
    }
    let _ = tokio::signal::ctrl_c().await;
}

/// Ears on this computer alone, and on its address in the network where that is wanted;
/// the port; and the addresses of the latter.
async fn listeners(settings: &Settings) -> Result<(Vec<TcpListener>, u16, Vec<String>), Failure> {
    let refused = |error: io::Error| Failure {
        message: format!("port {} cannot be opened ({error})", settings.port),
        hint: "leave --port out for one that is free".to_owned(),
    };
    let local = TcpListener::bind((Ipv4Addr::LOCALHOST, settings.port)).await;
    let local = local.map_err(refused)?;
    let port = local.local_addr().map_err(refused)?.port();
    let mut all = vec![local];
    let mut phones = Vec::new();
    if settings.lan {
        let address = lan_address().ok_or_else(|| Failure {
            message: "this computer is in no network that a phone could be in".to_owned(),
            hint: "join the Wi-Fi first, or leave --lan out".to_owned(),
        })?;
        let listener = TcpListener::bind((address, port)).await.map_err(refused)?;
        all.push(listener);
        phones.push(format!("{address}:{port}"));
    }
    Ok((all, port, phones))
}

/// This computer's address in its network. Nothing is sent: the system only says from
/// where it would send to an address that is reserved for examples (RFC 5737).
fn lan_address() -> Option<IpAddr> {
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0)).ok()?;
    socket.connect((Ipv4Addr::new(203, 0, 113, 1), 9)).ok()?;
    let address = socket.local_addr().ok()?.ip();
    (!address.is_loopback() && !address.is_unspecified()).then_some(address)
}
