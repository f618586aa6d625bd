package paper

import "html/template"

// templates are the sheets: lineup, visit and bay. Whatever people have typed
// stands in a bdi, so that text from right to left turns nothing else round.
var templates = template.Must(template.New("").Parse(`{{define "top"}}<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{{.Title}}: {{.For}}</title>
<style>
@page { margin: 12mm 13mm 14mm{{if .Wide}}; size: landscape{{end}} }
* { box-sizing: border-box }
body { margin: 0 auto; padding: 0; max-width: {{if .Wide}}270mm{{else}}190mm{{end}}; background: #fff; color: #000;
  font: 12.5pt/1.34 "Liberation Sans", Arial, Helvetica, sans-serif; overflow-wrap: anywhere }
header { display: flex; gap: 8mm; align-items: flex-end; justify-content: space-between; border-bottom: 1.2mm solid #000; padding: 0 0 2.5mm }
header p { margin: 0 }
main { padding-right: .4mm }
.kind { font-size: 12pt; font-weight: bold }
h1 { font-size: 29pt; line-height: 1.05; margin: 1mm 0 0 }
.source { flex: 0 0 58mm; text-align: right; font-size: 9.5pt; line-height: 1.3 }
.note { border: .9mm solid #000; padding: 2.2mm 3mm; margin: 4mm 0 0; font-weight: bold }
.sum { font-size: 14pt; line-height: 1.25; margin: 2.5mm 0 0 }
h2 { font-size: 16pt; line-height: 1.15; margin: 4.5mm 0 1mm; break-after: avoid }
p { margin: 1.5mm 0 }
table { width: 100%; border-collapse: collapse; margin: 0 }
caption { text-align: left; font-size: 9.5pt; padding: 0 0 .6mm; break-after: avoid }
.keep { break-inside: avoid }
.page { break-before: page }
thead { display: table-header-group }
tr { break-inside: avoid }
th, td { text-align: left; vertical-align: top; padding: 1.4mm 2mm; border-bottom: .25mm solid #000 }
thead th { font-size: 9.5pt; border-bottom: .6mm solid #000; padding: .8mm 2mm }
tbody th { font-weight: bold }
.big { font-size: 17pt; line-height: 1.12; font-weight: bold }
.time { white-space: nowrap }
.small { display: block; font-size: 10pt; line-height: 1.3; font-weight: normal }
.floor { table-layout: fixed }
.floor thead th:nth-child(1) { width: 19% }
.floor thead th:nth-child(2) { width: 13% }
.floor thead th:nth-child(3) { width: 20% }
.floor thead th:nth-child(4) { width: 26% }
.none td { font-size: 11pt }
.tick { display: inline-block; width: 4.8mm; height: 4.8mm; border: .5mm solid #000; vertical-align: -.9mm }
.narrow { width: 17mm }
thead th { overflow-wrap: normal }
ul { margin: 0; padding: 0; list-style: none }
li + li { margin-top: 1mm }
ul.plain { padding-left: 5.5mm; list-style: square; font-size: 10.5pt; line-height: 1.3 }
.facts { table-layout: fixed }
.facts th { padding: 1.3mm 2mm .6mm; font-weight: normal; font-size: 10.5pt }
.facts td { padding: .6mm 2mm; font-size: 13.5pt; font-weight: bold }
.facts thead th:first-child { width: 44mm }
.cautions { columns: 2; column-gap: 8mm; font-size: 10.2pt; line-height: 1.27 }
.cautions li { break-inside: avoid; margin: 0 0 2mm; border-left: 1mm solid #000; padding-left: 2.5mm }
.cautions b { display: block; font-size: 11.5pt }
.defer { border-top: .6mm solid #000; border-bottom: .6mm solid #000; padding: 2mm 0; margin: 3mm 0 0; font-weight: bold; font-size: 11pt; break-inside: avoid; break-before: avoid }
.blank td, .blank th { height: 11.5mm }
.sign td, .sign th { height: 15mm; vertical-align: bottom }
.week { table-layout: fixed }
.week th, .week td { border: .3mm solid #000 }
.week thead th { font-size: 11.5pt; text-align: center; padding: 1.5mm .5mm }
.week thead th:first-child, .week tbody th { width: 27mm; overflow-wrap: normal }
.week td { height: 21mm; padding: 1.5mm; font-size: 10.5pt; line-height: 1.2 }
.week .begins { border-left: 1.4mm solid #000 }
footer { margin: 6mm 0 0; font-size: 9.5pt; border-top: .25mm solid #000; padding-top: 1.5mm }
@media screen { body { padding: 10mm } }
</style>
</head>
<body>
<header>
<div>
<p class="kind">{{.Title}}</p>
<h1><bdi>{{.For}}</bdi></h1>
</div>
<p class="source"><bdi>{{.Plant}}</bdi><br>{{.Plan}}</p>
</header>
<main>
{{with .Note}}<p class="note">{{.}}</p>
{{end}}{{end}}

{{define "foot"}}</main>
<footer>This paper shows one plan. When the plan changes it is void: ask the coordinator which plan is in force.</footer>
</body>
</html>
{{end}}

{{define "truck"}}<span class="big"><bdi>{{.ID}}</bdi></span>{{with .What}}<span class="small"><bdi>{{.}}</bdi></span>{{end}}{{end}}

{{define "customer"}}<bdi>{{.Customer}}</bdi>{{with .Town}}<span class="small"><bdi>{{.}}</bdi></span>{{end}}{{end}}

{{define "lineup"}}{{template "top" .}}<p class="sum">{{.People}}</p>
<h2>On the floor</h2>
{{if .Visits}}<table class="floor">
<caption>Positions in the order of the floor, times by the clock of the plant</caption>
<thead><tr><th scope="col">Position</th><th scope="col">Time</th><th scope="col">Truck</th><th scope="col">Who comes</th><th scope="col">They want to</th></tr></thead>
<tbody>
{{range .Visits}}{{if .Free}}<tr class="none"><th scope="row"><bdi>{{.Position}}</bdi></th><td colspan="4"><bdi>{{.Free}}</bdi></td></tr>
{{else}}<tr><th scope="row"><span class="big"><bdi>{{.Position}}</bdi></span></th>
<td><span class="big time">{{.From}}–<br>{{.To}}</span>{{with .Days}}<span class="small">{{.}}</span>{{end}}</td>
<td>{{template "truck" .Truck}}</td>
<td><b>{{template "customer" .Truck}}</b><div>{{.People}}</div><span class="small">{{.Kind}}, {{.State}}</span>{{with .Hosts}}<span class="small">Hosts: <bdi>{{.}}</bdi></span>{{end}}</td>
<td>{{if .Wishes}}<ul>{{range .Wishes}}<li><b><bdi>{{.Name}}</bdi></b><br>{{.When}}{{with .Bay}}, <bdi>{{.}}</bdi>{{end}}{{with .With}}<span class="small"><bdi>{{.}}</bdi></span>{{end}}</li>{{end}}</ul>{{else}}–{{end}}</td></tr>
{{end}}{{end}}</tbody>
</table>
{{else}}<p>No position of the floor is known.</p>
{{end}}<section class="keep">
<h2>In place before this day</h2>
{{if .Before}}<table>
<caption>Tick each truck when it stands in its position</caption>
<thead><tr><th scope="col" class="narrow">In place</th><th scope="col">Truck</th><th scope="col">Position</th><th scope="col">From</th></tr></thead>
<tbody>
{{range .Before}}<tr><td class="narrow"><span class="tick"></span></td><th scope="row">{{template "truck" .Truck}}</th><td><bdi>{{.Position}}</bdi></td><td>{{.When}}</td></tr>
{{end}}</tbody>
</table>
{{else}}<p>No truck.</p>
{{end}}</section>
{{if .After}}<section class="keep">
<h2>Put in place on this day, for later</h2>
<table>
<caption>Trucks that are shown on another day</caption>
<thead><tr><th scope="col" class="narrow">In place</th><th scope="col">Truck</th><th scope="col">Position</th><th scope="col">From</th><th scope="col">Shown on</th></tr></thead>
<tbody>
{{range .After}}<tr><td class="narrow"><span class="tick"></span></td><th scope="row">{{template "truck" .Truck}}</th><td><bdi>{{.Position}}</bdi></td><td>{{.When}}</td><td>{{.For}}</td></tr>
{{end}}</tbody>
</table>
</section>
{{end}}{{if .Not}}<section class="keep">
<h2>Booked for this day, and not held on it</h2>
<ul class="plain">{{range .Not}}<li><bdi>{{.}}</bdi></li>
{{end}}</ul>
</section>
{{end}}<p class="defer">Safety shoes and eye protection for everybody on the floor. Anybody may call stop.</p>
{{template "foot" .}}{{end}}

{{define "visit"}}{{template "top" .}}<p class="sum"><b><bdi>{{.Truck.Customer}}</bdi></b>{{with .Truck.Town}}, <bdi>{{.}}</bdi>{{end}}<br><bdi>{{.Truck.What}}</bdi></p>
<h2>The visit</h2>
<table class="facts">
<caption>Times by the clock of the plant</caption>
<thead><tr><th scope="col">What</th><th scope="col">Known</th></tr></thead>
<tbody>
{{range .Facts}}<tr><th scope="row">{{.Name}}</th><td><bdi>{{.Value}}</bdi></td></tr>
{{end}}</tbody>
</table>
{{if .Wishes}}<section class="keep">
<h2>What they want to do</h2>
<table>
<caption>Inside the visit</caption>
<thead><tr><th scope="col" class="narrow">Done</th><th scope="col">Wish</th><th scope="col">Time</th><th scope="col">Bay</th><th scope="col">People</th></tr></thead>
<tbody>
{{range .Wishes}}<tr><td class="narrow"><span class="tick"></span></td><th scope="row"><bdi>{{.Name}}</bdi></th><td>{{.When}}</td><td><bdi>{{.Bay}}</bdi></td><td><bdi>{{.With}}</bdi></td></tr>
{{end}}</tbody>
</table>
</section>
{{end}}{{if .Certificates}}<section class="keep">
<h2>Certificates before the visit</h2>
<table>
<caption>Tick each one when its paper is in hand</caption>
<thead><tr><th scope="col" class="narrow">In hand</th><th scope="col">Certificate</th><th scope="col">When</th><th scope="col">Bay</th></tr></thead>
<tbody>
{{range .Certificates}}<tr><td class="narrow"><span class="tick"></span></td><th scope="row"><bdi>{{.Name}}</bdi></th><td>{{.When}}</td><td><bdi>{{.Bay}}</bdi></td></tr>
{{end}}</tbody>
</table>
{{with .Ready}}<p><bdi>{{.}}</bdi></p>
{{end}}</section>
{{end}}<h2>Look out</h2>
{{if .Cautions}}<ul class="cautions">{{range .Cautions}}<li><b>{{.Title}}</b>{{.Text}}</li>
{{end}}</ul>
{{end}}{{if .Briefs}}<p>Other work on this truck:</p>
<ul class="plain">{{range .Briefs}}<li><b><bdi>{{.Work}}.</bdi></b> {{.Brief}}</li>
{{end}}</ul>
{{end}}<p class="defer">{{.Deferral}}</p>
<section class="page">
<h2>Findings on truck <bdi>{{.Truck.ID}}</bdi></h2>
<table>
<caption>One line each; the customer and the host both keep a copy</caption>
<thead><tr><th scope="col">No.</th><th scope="col">What was found, and where on the truck</th><th scope="col">Who corrects it</th><th scope="col">By when</th></tr></thead>
<tbody class="blank">
{{range .Findings}}<tr><th scope="row" class="narrow">{{.}}</th><td></td><td style="width:38mm"></td><td style="width:26mm"></td></tr>
{{end}}</tbody>
</table>
<h2>Signatures</h2>
<table>
<caption>Signed after the findings have been read out</caption>
<thead><tr><th scope="col">For</th><th scope="col">Name</th><th scope="col">Signature</th><th scope="col">Date, time</th></tr></thead>
<tbody class="sign">
{{range .Signatures}}<tr><th scope="row" style="width:40mm">{{.}}</th><td></td><td></td><td style="width:34mm"></td></tr>
{{end}}</tbody>
</table>
</section>
{{template "foot" .}}{{end}}

{{define "bay"}}{{template "top" .}}{{with .Takes}}<p>{{.}}</p>
{{end}}<h2>The week</h2>
<table class="week">
<caption>A heavy line at the left: a truck takes the bay here</caption>
<thead><tr><th scope="col">Part of the day</th>{{range .Days}}<th scope="col">{{.}}</th>{{end}}</tr></thead>
<tbody>
{{range .Parts}}<tr><th scope="row"><bdi>{{.Name}}</bdi></th>{{range .Cells}}<td{{if .Begins}} class="begins"{{end}}>{{with .Truck}}<span class="big"><bdi>{{.}}</bdi></span><br>{{end}}{{with .Stage}}<bdi>{{.}}</bdi>{{end}}{{with .Note}}<div><b><bdi>{{.}}</bdi></b></div>{{end}}</td>{{end}}</tr>
{{end}}</tbody>
</table>
<section class="keep">
<h2>The trucks</h2>
{{if .Stays}}<table>
<caption>In the order in which they take the bay</caption>
<thead><tr><th scope="col">Truck</th><th scope="col">Customer</th><th scope="col">Work</th><th scope="col">In the bay from</th><th scope="col">Work from</th><th scope="col">Work to</th></tr></thead>
<tbody>
{{range .Stays}}<tr><th scope="row">{{template "truck" .Truck}}</th><td>{{template "customer" .Truck}}</td><td><bdi>{{.Stage}}</bdi></td><td>{{.Hold}}</td><td>{{.Start}}</td><td>{{.End}}</td></tr>
{{end}}</tbody>
</table>
{{else}}<p>No truck holds the bay in this week.</p>
{{end}}</section>
{{template "foot" .}}{{end}}
`))
