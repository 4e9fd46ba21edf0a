//! How the page looks, on a screen and on A4.

/// The style sheet.
pub(super) const STYLE: &str = "
body { margin: 0; background: #fff; color: #1a1a1a; font: 15px/1.45 serif; }
main { max-width: 46rem; margin: 0 auto; padding: 1.5rem; }
h1 { font-size: 1.7rem; line-height: 1.2; margin: 0 0 1rem; }
h2 { font-size: 1.15rem; margin: 1.8rem 0 .5rem; border-bottom: 1px solid #888; padding-bottom: .15rem; }
h3 { font-size: 1rem; margin: 1rem 0 .3rem; }
p, ul, dl { margin: .4rem 0; }
dl { display: grid; grid-template-columns: 11rem 1fr; gap: .15rem 1rem; }
dt { color: #444; }
dd { margin: 0; overflow-wrap: anywhere; }
table { border-collapse: collapse; width: 100%; margin: .6rem 0; font-size: .9em; }
caption { text-align: left; color: #444; padding-bottom: .2rem; }
th, td { text-align: left; vertical-align: top; padding: .2rem 1.2rem .2rem 0; border-bottom: 1px solid #ddd; font-weight: normal; }
thead th { border-bottom: 1px solid #444; font-weight: bold; }
.number { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; }
.day { white-space: nowrap; }
.opinion { font-size: 1.25rem; border-left: 4px solid #1a1a1a; padding: .2rem 0 .2rem .8rem; margin: .6rem 0; }
.what-if { border: 3px double #1a1a1a; padding: .4rem .8rem; font-size: 1.1rem; }
.missing { font-style: italic; }
figure { margin: .8rem 0; }
figure svg { max-width: 100%; height: auto; }
.sign { margin-top: 3rem; display: grid; grid-template-columns: 1fr 1fr; gap: 2rem; }
.sign div { border-top: 1px solid #1a1a1a; padding-top: .2rem; }
@page { size: A4; margin: 18mm 16mm; }
@media print {
  body { font-size: 10.5pt; }
  main { max-width: none; padding: 0; }
  h2, h3, caption { break-after: avoid; }
  tr, figure, .opinion, .what-if, .sign { break-inside: avoid; }
}
";
