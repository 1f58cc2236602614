document.querySelectorAll("table.sortable").forEach(function (table) {
  var body = table.tBodies[0];
  Array.prototype.forEach.call(table.tHead.rows[0].cells, function (head, at) {
    var button = document.createElement("button");
    button.type = "button";
    while (head.firstChild) { button.appendChild(head.firstChild); }
    head.appendChild(button);
    button.addEventListener("click", function () {
      var up = head.getAttribute("aria-sort") !== "ascending";
      Array.prototype.forEach.call(table.tHead.rows[0].cells, function (one) { one.removeAttribute("aria-sort"); });
      head.setAttribute("aria-sort", up ? "ascending" : "descending");
      var rows = Array.prototype.slice.call(body.rows);
      rows.sort(function (first, second) {
        var a = first.cells[at].textContent.trim(), b = second.cells[at].textContent.trim();
        var x = parseFloat(a), y = parseFloat(b);
        var order = isNaN(x) || isNaN(y) ? isNaN(x) - isNaN(y) || a.localeCompare(b) : x - y;
        return up ? order : -order;
      });
      rows.forEach(function (row) { body.appendChild(row); });
    });
  });
});
