// Cairo and Pango alone in this translation unit.
#include "host-tool/report/canvas.hpp"

#include <cairo-pdf.h>
#include <fmt/core.h>
#include <pango/pangocairo.h>

#include <algorithm>
#include <cmath>
#include <map>
#include <numbers>
#include <utility>

#include "host-tool/base/problem.hpp"
#include "host-tool/base/text.hpp"

namespace strandproof::host::report {
namespace {

constexpr double pt_per_mm = 72.0 / 25.4;
constexpr const char* text_family = "DejaVu Sans";  // condensed, of fonts-dejavu-extra
constexpr const char* mono_family = "DejaVu Sans Mono";
constexpr double measured_pt = 10.0;  // widths are measured once at this size: unhinted type scales exactly

struct Drop {
  void operator()(cairo_surface_t* s) const { cairo_surface_destroy(s); }
  void operator()(cairo_t* c) const { cairo_destroy(c); }
  void operator()(PangoFontMap* m) const { g_object_unref(m); }
  void operator()(PangoContext* c) const { g_object_unref(c); }
  void operator()(PangoFont* f) const { g_object_unref(f); }
  void operator()(PangoLayout* l) const { g_object_unref(l); }
  void operator()(PangoFontDescription* d) const { pango_font_description_free(d); }
  void operator()(PangoAttrList* l) const { pango_attr_list_unref(l); }
  void operator()(cairo_font_options_t* o) const { cairo_font_options_destroy(o); }
};
template <class T>
using Held = std::unique_ptr<T, Drop>;

cairo_status_t append(void* text, const unsigned char* bytes, unsigned count) {
  static_cast<std::string*>(text)->append(reinterpret_cast<const char*>(bytes), count);
  return CAIRO_STATUS_SUCCESS;
}

Held<PangoFontDescription> description(const Type& type) {
  Held<PangoFontDescription> d{pango_font_description_new()};
  pango_font_description_set_family(d.get(), type.mono ? mono_family : text_family);
  pango_font_description_set_stretch(d.get(),
                                     type.mono ? PANGO_STRETCH_NORMAL : PANGO_STRETCH_SEMI_CONDENSED);
  pango_font_description_set_weight(d.get(), type.bold ? PANGO_WEIGHT_BOLD : PANGO_WEIGHT_NORMAL);
  pango_font_description_set_absolute_size(d.get(), type.size_pt * PANGO_SCALE);
  return d;
}

struct Extent {
  double width, height;  // mm
};

Extent extent(PangoLayout* l) {
  int width = 0;
  int height = 0;
  pango_layout_get_size(l, &width, &height);
  return {pango_units_to_double(width) / pt_per_mm, pango_units_to_double(height) / pt_per_mm};
}

}  // namespace

struct Canvas::Inside {
  std::string bytes;
  double width_mm, height_mm;
  Held<cairo_surface_t> surface;
  Held<cairo_t> cairo;
  Held<PangoFontMap> fonts;
  Held<PangoContext> context;
  std::map<std::pair<std::string, int>, Extent> once;  // unbroken, at measured_pt, of text and kind of type

  // No hinting and no rounding: positions depend on the font file alone, not on a screen or its settings.
  void open_fonts() {
    fonts.reset(pango_cairo_font_map_new());
    pango_cairo_font_map_set_resolution(PANGO_CAIRO_FONT_MAP(fonts.get()), 72.0);
    context.reset(pango_font_map_create_context(fonts.get()));
    const Held<cairo_font_options_t> options{cairo_font_options_create()};
    cairo_font_options_set_hint_style(options.get(), CAIRO_HINT_STYLE_NONE);
    cairo_font_options_set_hint_metrics(options.get(), CAIRO_HINT_METRICS_OFF);
    cairo_font_options_set_antialias(options.get(), CAIRO_ANTIALIAS_GRAY);
    pango_cairo_context_set_font_options(context.get(), options.get());
    pango_context_set_round_glyph_positions(context.get(), FALSE);
    pango_context_set_language(context.get(), pango_language_from_string("en"));
  }

  // fontconfig gives the nearest font it has; only the named one gives the page that was tested.
  void require(const Type& type) const {
    const auto wanted = description(type);
    const Held<PangoFont> font{pango_context_load_font(context.get(), wanted.get())};
    if (font) {
      const Held<PangoFontDescription> got{pango_font_describe(font.get())};
      const auto same = [&](auto of) { return of(got.get()) == of(wanted.get()); };
      if (std::string_view{pango_font_description_get_family(got.get())} ==
              pango_font_description_get_family(wanted.get()) &&
          same(pango_font_description_get_stretch) && same(pango_font_description_get_weight)) {
        return;
      }
    }
    throw bad_input(
        fmt::format("the font '{}'{} is not installed; install fonts-dejavu-core and fonts-dejavu-extra",
                    type.mono ? mono_family : text_family, type.mono ? "" : " condensed"));
  }

  // width_mm below zero: one line. A text that is not UTF-8 is shown as far as it can be.
  [[nodiscard]] Held<PangoLayout> layout(const std::string& text, const Type& type, double width) const {
    Held<PangoLayout> l{pango_layout_new(context.get())};
    pango_layout_set_font_description(l.get(), description(type).get());
    const Held<PangoAttrList> attributes{pango_attr_list_new()};
    // No ligatures: who searches or copies the text finds every letter.
    pango_attr_list_insert(attributes.get(), pango_attr_font_features_new("liga=0, clig=0"));
    pango_layout_set_attributes(l.get(), attributes.get());
    pango_layout_set_text(l.get(), text.c_str(), static_cast<int>(text.size()));
    pango_layout_set_wrap(l.get(), PANGO_WRAP_WORD_CHAR);
    if (width >= 0.0) pango_layout_set_width(l.get(), pango_units_from_double(width * pt_per_mm));
    return l;
  }

  Extent measured(const std::string& text, const Type& type) {
    const auto key = std::pair{text, (type.bold ? 1 : 0) + (type.mono ? 2 : 0)};
    const auto found = once.find(key);
    if (found != once.end()) return found->second;
    Type at_ten = type;
    at_ten.size_pt = measured_pt;
    return once.emplace(key, extent(layout(text, at_ten, -1.0).get())).first->second;
  }

  void ink(double grey) const { cairo_set_source_rgb(cairo.get(), grey, grey, grey); }

  void path(const std::vector<Place>& corners) const {
    cairo_new_path(cairo.get());  // text leaves a current point behind
    for (const auto& p : corners) cairo_line_to(cairo.get(), p.x * pt_per_mm, p.y * pt_per_mm);
    cairo_close_path(cairo.get());
  }

  void pen(const Pen& p) const {
    ink(p.grey);
    cairo_set_line_width(cairo.get(), p.width_mm * pt_per_mm);
  }

  void show(PangoLayout* l, double x_pt, double y_pt, double grey) const {
    ink(grey);
    cairo_move_to(cairo.get(), x_pt, y_pt);
    pango_cairo_show_layout(cairo.get(), l);
  }
};

Canvas::Canvas(double width_mm, double height_mm, const std::string& title, std::int64_t dated_s)
    : inside_{std::make_unique<Inside>()} {
  auto& in = *inside_;
  in.width_mm = width_mm;
  in.height_mm = height_mm;
  in.surface.reset(
      cairo_pdf_surface_create_for_stream(append, &in.bytes, width_mm * pt_per_mm, height_mm * pt_per_mm));
  cairo_pdf_surface_restrict_to_version(in.surface.get(), CAIRO_PDF_VERSION_1_5);
  const auto describe = [&](cairo_pdf_metadata_t what, const std::string& value) {
    cairo_pdf_surface_set_metadata(in.surface.get(), what, value.c_str());
  };
  describe(CAIRO_PDF_METADATA_TITLE, title);
  describe(CAIRO_PDF_METADATA_CREATOR, "strandproof");
  describe(CAIRO_PDF_METADATA_CREATE_DATE, format_time(dated_s));  // without it Cairo writes the clock
  in.cairo.reset(cairo_create(in.surface.get()));
  in.open_fonts();
  in.require({.size_pt = measured_pt});
  in.require({.size_pt = measured_pt, .bold = true});
  in.require({.size_pt = measured_pt, .mono = true});
}

Canvas::~Canvas() = default;

double Canvas::text_width(const std::string& text, const Type& type) {
  return inside_->measured(text, type).width * type.size_pt / measured_pt;
}

double Canvas::text_height(const std::string& text, const Type& type, double width_mm) {
  const auto once = inside_->measured(text, type);
  const double scale = type.size_pt / measured_pt;
  if (once.width * scale <= width_mm) return once.height * scale;
  return extent(inside_->layout(text, type, width_mm).get()).height;
}

double Canvas::text(Place at, double width_mm, const std::string& text, const Type& type, Anchor anchor) {
  const auto l = inside_->layout(text, type, width_mm);
  pango_layout_set_alignment(l.get(), anchor == Anchor::start    ? PANGO_ALIGN_LEFT
                                      : anchor == Anchor::middle ? PANGO_ALIGN_CENTER
                                                                 : PANGO_ALIGN_RIGHT);
  const double shift = anchor == Anchor::start ? 0.0 : anchor == Anchor::middle ? width_mm / 2.0 : width_mm;
  inside_->show(l.get(), (at.x - shift) * pt_per_mm, at.y * pt_per_mm, type.grey);
  return extent(l.get()).height;
}

void Canvas::label(const Label& label, const Type& type) {
  const auto l = inside_->layout(label.text, type, -1.0);
  const double width = text_width(label.text, type) * pt_per_mm;
  const double before = label.anchor == Anchor::start ? 0.0 : label.anchor == Anchor::middle ? 0.5 : 1.0;
  cairo_save(inside_->cairo.get());
  cairo_translate(inside_->cairo.get(), label.at.x * pt_per_mm, label.at.y * pt_per_mm);
  if (label.turned) cairo_rotate(inside_->cairo.get(), -std::numbers::pi / 2.0);
  inside_->show(l.get(), -width * before, -pango_units_to_double(pango_layout_get_baseline(l.get())),
                type.grey);
  cairo_restore(inside_->cairo.get());
}

void Canvas::across(const std::string& text, double grey) {
  const double diagonal = std::hypot(inside_->width_mm, inside_->height_mm);
  Type type{.size_pt = measured_pt, .bold = true, .grey = grey};
  type.size_pt *= 0.76 * diagonal / text_width(text, type);
  const auto l = inside_->layout(text, type, -1.0);
  const Extent size = extent(l.get());
  cairo_save(inside_->cairo.get());
  cairo_translate(inside_->cairo.get(), inside_->width_mm / 2.0 * pt_per_mm,
                  inside_->height_mm / 2.0 * pt_per_mm);
  cairo_rotate(inside_->cairo.get(), -std::atan2(inside_->height_mm, inside_->width_mm));
  inside_->show(l.get(), -size.width * pt_per_mm / 2.0, -size.height * pt_per_mm / 2.0, grey);
  cairo_restore(inside_->cairo.get());
}

void Canvas::line(Place from, Place to, const Pen& pen) {
  inside_->pen(pen);
  cairo_move_to(inside_->cairo.get(), from.x * pt_per_mm, from.y * pt_per_mm);
  cairo_line_to(inside_->cairo.get(), to.x * pt_per_mm, to.y * pt_per_mm);
  cairo_stroke(inside_->cairo.get());
}

void Canvas::area(const std::vector<Place>& corners, double grey) {
  inside_->ink(grey);
  inside_->path(corners);
  cairo_fill(inside_->cairo.get());
}

void Canvas::outline(const std::vector<Place>& corners, const Pen& pen) {
  inside_->pen(pen);
  inside_->path(corners);
  cairo_stroke(inside_->cairo.get());
}

std::string Canvas::finish() {
  cairo_show_page(inside_->cairo.get());
  cairo_surface_finish(inside_->surface.get());
  const auto status = cairo_surface_status(inside_->surface.get());
  if (status != CAIRO_STATUS_SUCCESS) {
    throw bad_input(
        fmt::format("the page could not be drawn: {}; report it as a fault", cairo_status_to_string(status)));
  }
  return inside_->bytes;
}

}  // namespace strandproof::host::report
