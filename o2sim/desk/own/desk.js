"use strict";
// What a page does by itself: check a field on leaving it, follow work, move a slider. All works without.

// A field is checked as one leaves it; the server says what is wrong, and keeps what was typed.
const questions = document.getElementById("questions");

async function check(name) {
  const form = new FormData(questions);
  const sent = new URLSearchParams({ form_key: form.get("form_key"), name, typed: form.get(name) || "",
    choice: form.get(name + ".choice") || "" });
  try {
    const answer = await fetch(questions.dataset.check, { method: "POST", body: sent });
    if (answer.ok) show(name, (await answer.json()).problem);
  } catch { /* the server is away: what was typed is still here, and is checked when it is sent */ }
}

function show(name, problem) {
  const field = document.getElementById(name);
  document.getElementById(name + "-problem").textContent = problem;
  document.getElementById(name + "-all").classList.toggle("wrong", problem !== "");
  if (problem) field.setAttribute("aria-invalid", "true"); else field.removeAttribute("aria-invalid");
}

if (questions) {
  questions.addEventListener("change", (event) => check(event.target.name.replace(/\.choice$/, "")));
  questions.addEventListener("input", (event) => {  // who types means a figure of their own
    if (event.target.type !== "text") return;
    const ours = questions.querySelector(`input[type=radio][name="${event.target.name}.choice"][value="ours"]`);
    if (ours) ours.checked = true;
  });
}

// After a refusal the reader is put where it is explained.
document.getElementById("summary")?.focus();

// A run is followed until its state changes; then the page is asked for again.
const run = document.getElementById("run");

async function follow() {
  try {
    const now = await (await fetch(run.dataset.follow)).json();
    if (now.state !== run.dataset.state) return location.reload();
    document.getElementById("far").textContent = now.said;
    const bar = document.getElementById("bar");
    if (bar && now.of) { bar.max = now.of; bar.value = now.done; }
  } catch { /* asked again */ }
  setTimeout(follow, 700);
}

if (run?.dataset.follow) setTimeout(follow, 300);

// What is worked out in the background is looked for until it is there; then the page is asked for again.
const main = document.querySelector("main[data-again]");

async function look() {
  try {
    if (!(await (await fetch(location.href)).text()).includes("data-again")) return location.reload();
  } catch { /* asked again */ }
  setTimeout(look, 1000 * main.dataset.again);
}

if (main && !run) setTimeout(look, 1000 * main.dataset.again);

// A slider runs over the rows of a table that stands there without it too.
const slider = document.getElementById("slider");

function choose() {
  const rows = [...document.getElementById(slider.dataset.table).tBodies[0].rows];
  const heads = [...document.getElementById(slider.dataset.table).tHead.rows[0].cells];
  rows.forEach((row, place) => row.classList.toggle("chosen", place === Number(slider.value)));
  const row = rows[slider.value], pick = row.querySelector("input[type=radio]");
  if (pick) pick.checked = true;
  const said = [...row.cells].slice(1).map((cell, place) => `${heads[place + 1].innerText}: ${cell.innerText.replaceAll("\n", ", ")}`);
  slider.setAttribute("aria-valuetext", row.cells[0].innerText);
  slider.parentElement.querySelector("output").textContent = `${row.cells[0].innerText}. ${said.join("; ")}`;
}

if (slider) {
  const rows = [...document.getElementById(slider.dataset.table).tBodies[0].rows];
  slider.value = Math.max(0, rows.findIndex((row) => row.classList.contains("chosen")));
  slider.parentElement.hidden = false;
  slider.addEventListener("input", choose);
  rows.forEach((row, place) => row.addEventListener("change", () => { slider.value = place; choose(); }));
  choose();
}

for (const button of document.querySelectorAll("button.print")) {
  button.hidden = false;
  button.addEventListener("click", () => window.print());
}
