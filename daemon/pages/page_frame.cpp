#include "daemon/pages/page_frame.h"

#include <spdlog/fmt/fmt.h>

#include "daemon/pages/markup.h"

namespace lapwright {
namespace {

// Fonts are the reader's own: nothing is fetched. Shades are few, and nothing is told by colour alone.
constexpr std::string_view page_style = R"(
:root{color-scheme:light dark;--paper:#fdfcf8;--ink:#1c1b18;--soft:#5d5a52;--rule:#8d887b;--hair:#dedace;
--alert:#8a2f00;--alert-ground:#fbf0e2;--plate:#23211d;--plate-ink:#f4ecd8}
@media (prefers-color-scheme:dark){:root{--paper:#161715;--ink:#e6e3da;--soft:#a39f94;--rule:#77736a;--hair:#31312d;
--alert:#f2a76c;--alert-ground:#2b2018;--plate:#e6dfcb;--plate-ink:#1c1b18}}
*{box-sizing:border-box}
body{margin:0 auto;padding:2.2rem 1.4rem 3rem;max-width:50rem;background:var(--paper);color:var(--ink);
font:1rem/1.5 ui-serif,serif}
a{color:inherit}
header{display:flex;justify-content:space-between;align-items:flex-end;gap:1.5rem;padding-bottom:.9rem;
border-bottom:3px double var(--ink)}
.railway{margin:0 0 .35rem;letter-spacing:.09em;font-variant-caps:small-caps;color:var(--soft)}
h1{margin:0;font-size:2.1rem;line-height:1.1;font-weight:600}
.identity{margin:.4rem 0 0;color:var(--soft)}
.plate{flex:none;margin:0;padding:.3rem 1.1rem;min-width:4.2rem;border-radius:.55rem;background:var(--plate);
color:var(--plate-ink);outline:1.5px solid var(--plate-ink);outline-offset:-5px;font-size:1.9rem;line-height:1.5;
font-weight:700;text-align:center;letter-spacing:.04em}
.outcome{margin:1.1rem 0;font-size:1.15rem}
h2{margin:2.2rem 0 .8rem;padding-top:.35rem;border-top:1.5px solid var(--ink);font-size:1.02rem;font-weight:600;
letter-spacing:.03em}
h3{margin:1.3rem 0 .3rem;font-size:1rem;font-weight:600}
p{margin:.5rem 0;max-width:44rem}
ul{margin:.5rem 0;padding-left:1.15rem;max-width:44rem}
li{margin:.25rem 0}
.alert,.calm{margin:1.2rem 0;padding:.2rem 1.1rem .5rem;border:1px solid var(--rule)}
.alert{border:1.5px solid var(--alert);border-left-width:7px;background:var(--alert-ground)}
.alert h2,.alert h3,.calm h2{border:0;padding:0;margin:.6rem 0 .3rem}
.alert h2,.alert h3{color:var(--alert)}
dl{display:grid;grid-template-columns:max-content 1fr;gap:.2rem 1.4rem;margin:1.1rem 0}
dt{color:var(--soft)}
dd{margin:0}
figure{margin:.6rem 0}
figure svg{display:block;width:100%;height:auto}
figcaption{margin-top:.5rem}
figcaption,p.note{font-size:.88rem}
figcaption,.note{color:var(--soft)}
table{border-collapse:collapse;margin:.6rem 0;font:.86rem/1.4 ui-sans-serif,system-ui,sans-serif;
font-variant-numeric:tabular-nums}
table.wide{width:100%}
th{padding:.25rem .7rem .25rem 0;border-bottom:1px solid var(--ink);text-align:left;vertical-align:bottom;
font-weight:500;color:var(--soft)}
td{padding:.2rem .7rem .2rem 0;border-bottom:1px solid var(--hair);vertical-align:top}
th:last-child,td:last-child{padding-right:0}
tbody tr:last-child td{border-bottom-color:var(--rule)}
th.n,td.n{text-align:right;white-space:nowrap}
td.cv{white-space:nowrap;font-weight:600}
td.gap,th.gap{padding-left:1.6rem}
.tight td,.tight th{padding-right:.45rem}
.tight td.gap,.tight th.gap{padding-left:1.1rem}
th.v,td.v{padding-right:.35rem}
td.pm{color:var(--soft);white-space:nowrap}
.short{font-weight:700}
@media (max-width:40rem){.scroll{overflow-x:auto}h1{font-size:1.6rem}}
@page{size:A4;margin:15mm 16mm}
@media print{:root{color-scheme:light;--paper:#fff;--ink:#000;--soft:#333;--rule:#666;--hair:#ccc;--alert:#000;
--alert-ground:#fff;--plate:#fff;--plate-ink:#000}
html{font-size:10pt}
body{max-width:none;padding:0}
.outcome{font-size:1.1rem}
h2{margin-top:1.5rem}
figure svg{max-height:104mm}
p,ul{max-width:none}
.plate{border:1.5px solid #000}
thead{display:table-header-group}
tr,figure,aside,li{break-inside:avoid}
h1,h2,h3{break-after:avoid}
.scroll{overflow:visible}}
)";

}  // namespace

std::string framed_page(std::string_view title, std::string_view body) {
  return fmt::format(
      "<!DOCTYPE html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\"/>\n"
      "<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\"/>\n<title>{}</title>\n"
      "<style>{}</style>\n</head>\n<body>\n{}</body>\n</html>\n",
      in_markup(title), page_style, body);
}

std::string page_section(std::string_view name, std::string_view body) {
  return fmt::format("<section>\n<h2>{}</h2>\n{}</section>\n", in_markup(name), body);
}

std::string page_list(const std::vector<std::string>& items) {
  std::string result = "<ul>\n";
  for (const std::string& item : items) result += fmt::format("<li>{}</li>\n", in_markup(item));
  return result + "</ul>\n";
}

std::string page_facts(const std::vector<std::pair<std::string, std::string>>& pairs) {
  std::string result = "<dl>\n";
  for (const auto& [name, said] : pairs) {
    result += fmt::format("<dt>{}</dt><dd>{}</dd>\n", in_markup(name), in_markup(said));
  }
  return result + "</dl>\n";
}

}  // namespace lapwright
