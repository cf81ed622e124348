// worth is what a cell is sorted by: a day, a number, or its words; what is not
// known comes last.
function worth(cell, isNumber) {
	const s = words(cell);
	if (day(s)) return [0, day(s)];
	if (s === "replace") return [0, "0"];
	if (s === "now") return [0, "1"];
	if (!s || /^(not known|no date|none|no day|ask again|–)/.test(s)) return [2, ""];
	const n = number(s);
	if (isNumber) return Number.isNaN(n) ? [2, ""] : [0, n];
	return [1, s.toLowerCase()];
}

function compare(a, b) {
	if (a[0] !== b[0]) return a[0] - b[0];
	if (typeof a[1] === "number" && typeof b[1] === "number") return a[1] - b[1];
	return String(a[1]).localeCompare(String(b[1]), undefined, {numeric: true});
}

// sortBy sorts a table's rows; headings between rows are put away until the rows
// stand in their own order again.
function sortBy(table, k, way) {
	const body = table.tBodies[0], heads = [...table.tHead.rows[0].cells];
	const own = table.ownOrder ||= [...body.rows];
	heads.forEach((h, i) => i === k && way ? h.setAttribute("aria-sort", way > 0 ? "ascending" : "descending") : h.removeAttribute("aria-sort"));
	let rows = [...own];
	if (way) {
		rows = own.filter(r => !r.classList.contains("heading"));
		const key = new Map(rows.map(r => [r, worth(r.cells[k], heads[k].classList.contains("n"))]));
		rows.sort((x, y) => {
			const a = key.get(x), b = key.get(y);
			return a[0] === 2 || b[0] === 2 ? a[0] - b[0] : way * compare(a, b); // not known: last both ways
		});
	}
	body.replaceChildren(...rows);
	table.dataset.sorted = way ? k + (way > 0 ? "a" : "d") : "";
}

// filterBy leaves the rows that hold all that was typed.
function filterBy(table, typed) {
	const want = typed.toLowerCase().split(/\s+/).filter(Boolean);
	let heading = null, group = "", shown = 0;
	for (const r of table.ownOrder ||= [...table.tBodies[0].rows]) {
		if (r.classList.contains("heading")) {
			heading = r;
			group = r.textContent.toLowerCase();
			r.hidden = want.length > 0;
			continue;
		}
		const text = group + " " + r.textContent.toLowerCase();
		r.hidden = !want.every(w => text.includes(w));
		if (!r.hidden) {
			shown++;
			if (heading) heading.hidden = false;
		}
	}
	return shown;
}

const quote = s => /[",\n]/.test(s) ? '"' + s.replace(/"/g, '""') + '"' : s;
// safe keeps a spreadsheet from taking words for a formula.
const safe = s => /^[=+\-@\t]/.test(s) && Number.isNaN(Number(s)) ? "'" + s : s;

// csv writes a table for a program: days as 2027-03-02, numbers without commas, an
// interval's ends and the small words in columns of their own.
function csv(table) {
	const heads = [...table.tHead.rows[0].cells], rows = table.ownOrder || [...table.tBodies[0].rows];
	const has = sel => heads.map((_, i) => rows.some(r => r.cells[i] && r.cells.length > 1 && r.cells[i].querySelector(sel)));
	const grouped = rows.some(r => r.classList.contains("heading")), intervals = has("small"), notes = has(".note");
	const value = s => day(s) && s.replace(/\s/g, " ").length <= 11 ? day(s) : /^[−-]?\d[\d,]*(\.\d+)?(\s\S{1,8})?$/.test(s) ? String(number(s)) : s;
	const out = [];
	const line = grouped ? ["group"] : [];
	heads.forEach((h, i) => {
		const name = words(h) || "drawn";
		line.push(name, ...(intervals[i] ? [name + " from", name + " to"] : []), ...(notes[i] ? [name + " note"] : []));
	});
	out.push(line);
	let group = "";
	for (const r of rows) {
		if (r.classList.contains("heading")) { group = words(r.cells[0]); continue; }
		if (r.hidden) continue;
		const cells = grouped ? [group] : [];
		heads.forEach((_, i) => {
			const c = r.cells[i], text = c ? words(c) : "";
			cells.push(value(text));
			if (intervals[i]) {
				const m = /\((.*) to (.*)\)/.exec(c?.querySelector("small")?.textContent || "");
				cells.push(m ? value(m[1].trim()) : "", m ? value(m[2].trim()) : "");
			}
			if (notes[i]) cells.push(c?.querySelector(".note")?.textContent.trim() || "");
		});
		out.push(cells);
	}
	return out.map(l => l.map(c => quote(safe(c))).join(",") + "\r\n").join("");
}

const longTable = 12; // rows from which a table can be filtered

function tableTools(table, n) {
	if (!table.tHead || table.tBodies[0].rows.length < 2) return;
	const heads = [...table.tHead.rows[0].cells];
	const tools = make("div", {class: "tools"});
	const next = k => sortBy(table, k, {[k + "a"]: -1, [k + "d"]: 0}[table.dataset.sorted] ?? 1);
	heads.forEach((h, k) => {
		if (h.querySelector(".unseen")) return;
		const name = words(h), term = h.querySelector(".term"); // a link to the glossary stays one
		const b = make("button", {type: "button", title: "sort by " + name});
		if (term) {
			b.className = "way";
			b.setAttribute("aria-label", "sort by " + name);
		} else b.append(...h.childNodes);
		b.addEventListener("click", () => next(k));
		h.append(b);
	});
	if (table.tBodies[0].rows.length >= longTable) {
		const input = make("input", {type: "search", id: "filter-" + n, autocomplete: "off"});
		const told = make("span", {class: "note", role: "status"});
		input.addEventListener("input", () => {
			const shown = filterBy(table, input.value);
			told.textContent = input.value.trim() ? " " + shown + (shown === 1 ? " row" : " rows") : "";
		});
		const pick = make("select", {id: "sort-" + n}, make("option", {value: ""}, "as it is"),
			...heads.map((h, k) => [h, k]).filter(([h]) => !h.querySelector(".unseen")).map(([h, k]) => make("option", {value: k}, words(h))));
		pick.addEventListener("change", () => pick.value === "" ? sortBy(table, 0, 0) : sortBy(table, Number(pick.value), 1));
		tools.append(make("label", {for: "filter-" + n}, "Filter "), input, told,
			make("span", {class: "slim"}, make("label", {for: "sort-" + n}, "Sort by "), pick));
	}
	const button = make("button", {type: "button"}, "Save as CSV");
	button.addEventListener("click", () => save(fileWord(table.caption.textContent) + ".csv", "text/csv", csv(table)));
	tools.append(button);
	table.closest(".scroll").before(tools);
}
