use super::*;

fn sent(piece: &Piece) -> Vec<u8> {
    let mut bytes = Vec::new();
    piece.send(&mut bytes).unwrap();
    bytes
}

fn every_kind() -> Vec<Piece> {
    vec![
        Piece::Progress(Stage::Watching, 7, 1000),
        Piece::Motion(Motion {
            times_s: vec![0.0, 0.1],
            change: vec![1.5, -0.0],
        }),
        Piece::Picture(b"\x89PNG\r\n\x1a\nrest".to_vec()),
        Piece::Frame(7, b"\xff\xd8\xffrest".to_vec()),
        Piece::NoPictures(b"{}".to_vec()),
        Piece::Answer(b"[1]".to_vec()),
        Piece::Failure(b"{}".to_vec()),
    ]
}

#[test]
fn pieces_arrive_as_they_were_sent() {
    for piece in every_kind() {
        assert_eq!(Piece::receive(&mut sent(&piece).as_slice()), Ok(piece));
    }
    let undecoded = Piece::Motion(Motion {
        times_s: vec![0.5],
        change: vec![f32::NAN],
    });
    let Ok(Piece::Motion(got)) = Piece::receive(&mut sent(&undecoded).as_slice()) else {
        panic!("no motion");
    };
    assert!(got.change[0].is_nan());
}

#[test]
fn pieces_that_break_off_or_make_no_sense_are_refused() {
    for piece in every_kind() {
        let bytes = sent(&piece);
        for cut in 0..bytes.len() {
            assert!(Piece::receive(&mut &bytes[..cut]).is_err(), "{cut}");
        }
    }
    let refused = [
        &b"x\x00\x00\x00\x00"[..],
        // A length of four thousand million, without the bytes to go with it.
        b"a\xff\xff\xff\xff",
        b"m\x03\x00\x00\x00abc",
        b"i\x03\x00\x00\x00abc",
        b"j\x0b\x00\x00\x00\x01\0\0\0\0\0\0\0abc",
        b"p\x01\x00\x00\x00\x09",
    ];
    for bytes in refused {
        assert!(Piece::receive(&mut &bytes[..]).is_err(), "{bytes:?}");
    }
    let endless = [&b"m\x0c\x00\x00\x00"[..], &f64::NAN.to_le_bytes(), &[0; 4]].concat();
    assert!(Piece::receive(&mut endless.as_slice()).is_err());
}

#[test]
fn texts_from_a_child_steer_no_terminal() {
    let nasty = serde_json::to_vec(&vec!["\u{1b}]0;x\u{7}\n".to_owned(), "x".repeat(100_000)]);
    let texts: Vec<String> = parse(&nasty.unwrap()).unwrap();
    assert_eq!(texts[0], "\u{fffd}]0;x\u{fffd}\u{fffd}");
    assert_eq!(texts[1].len(), LONGEST_TEXT);
}

#[test]
fn a_measurement_that_contradicts_itself_is_refused() {
    let path = Path::new("here.mp4");
    let found = || {
        Found::failed(
            Path::new("elsewhere"),
            crate::report::model::Failure {
                message: "m".to_owned(),
                hint: "h".to_owned(),
            },
        )
    };
    let mut sound = found();
    check(&mut sound, path).unwrap();
    assert_eq!(sound.document.clip, "here.mp4");
    let mut other = found();
    other.document.schema = SCHEMA + 1;
    assert!(check(&mut other, path).is_err());
    let mut more = found();
    let record = crate::log::TrialRecord::of_height(
        crate::jump::JumpKind::Countermovement,
        crate::units::Metres::from_metres(0.3),
        crate::units::StandardUncertainty::default(),
    );
    more.trials.push(record);
    assert!(check(&mut more, path).is_err());
}
