//! How the page looks: readable on a phone, on paper, and without colour.

/// The style sheet; it names no outside file.
pub(super) const CSS: &str = "
:root { color: #181a1f; background: #fff; }
body { margin: 0; font: 16px/1.45 system-ui, sans-serif; }
main { max-width: 46rem; margin: 0 auto; padding: 1.2rem; }
header { border-bottom: 2px solid #181a1f; margin-bottom: 1rem; }
h1 { margin: 0; font-size: 1.9rem; }
h2 { margin: 1.4rem 0 .4rem; font-size: 1.2rem; break-after: avoid; }
p { margin: .4rem 0; }
.sort { margin: 0; color: #4e525a; }
.figure { font-size: 1.05rem; }
.figure strong { font-size: 2rem; margin-right: .3rem; }
.verdict { font-size: 1.2rem; }
.small, figcaption, footer { font-size: .85rem; color: #4e525a; }
figure { margin: .6rem 0; break-inside: avoid; }
figure svg { width: 100%; height: auto; display: block; }
table { border-collapse: collapse; width: 100%; margin: .5rem 0; }
th, td { text-align: left; padding: .2rem .6rem .2rem 0; border-bottom: 1px solid #c9ccd2; }
tr { break-inside: avoid; }
dl { display: grid; grid-template-columns: max-content 1fr; gap: .2rem 1rem; margin: .6rem 0; }
dt { color: #4e525a; }
dd { margin: 0; }
ul { margin: .4rem 0; padding-left: 1.2rem; }
footer { margin-top: 1.6rem; border-top: 1px solid #c9ccd2; padding-top: .5rem; }
@page { margin: 16mm; }
@media print {
  body { font-size: 10.5pt; }
  main { max-width: none; padding: 0; }
  figure svg { max-height: 72mm; }
}
@media (max-width: 30rem) { dl { grid-template-columns: 1fr; } dd { margin-bottom: .3rem; } }
";
