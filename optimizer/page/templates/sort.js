document.querySelectorAll("table.sortable").forEach(function (table) {
  var body = table.tBodies[0], heads = Array.from(table.tHead.rows[0].cells);
  function key(row, at) {
    var text = row.cells[at].textContent.trim(), clock = /^(\d+):(\d\d)\b/.exec(text);
    if (clock) { return [60 * clock[1] + Number(clock[2]), text]; }
    return [/^\d{4}-\d\d-\d\d/.test(text) ? NaN : parseFloat(text), text];
  }
  if (body.rows.length < 2) { return; }
  heads.forEach(function (head, at) {
    var button = document.createElement("button");
    button.type = "button";
    while (head.firstChild) { button.appendChild(head.firstChild); }
    head.appendChild(button);
    button.addEventListener("click", function () {
      var up = head.getAttribute("aria-sort") !== "ascending";
      heads.forEach(function (one) { one.removeAttribute("aria-sort"); });
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      Array.from(body.rows).sort(function (first, second) {
        var a = key(first, at), b = key(second, at), x = a[0], y = b[0];
        var order = isNaN(x) || isNaN(y) ? isNaN(x) - isNaN(y) || a[1].localeCompare(b[1]) : x - y;
        return up ? order : -order;
      }).forEach(function (row) { body.appendChild(row); });
    });
  });
});
