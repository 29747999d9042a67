// SPDX-License-Identifier: MIT
#include "sim/report/picture.hpp"

#include <fmt/format.h>

#include "sim/diagnostic.hpp"
#include "sim/stop.hpp"

#ifdef ARRIS_WITH_PNG
#include <cmath>
#include <memory>

#include <cairo-pdf.h>
#include <cairo.h>
#include <librsvg/rsvg.h>
#endif

namespace arris::report {

#ifdef ARRIS_WITH_PNG

namespace {

/// A picture that librsvg has read.
class Drawing {
 public:
  /// `code` and `into` are for the message where it cannot be drawn.
  Drawing(const std::string& svg_file, const char* code, const char* into) : code_(code), into_(into) {
    GError* error = nullptr;
    handle_.reset(
        rsvg_handle_new_from_data(reinterpret_cast<const guint8*>(svg_file.data()), svg_file.size(), &error));
    if (!handle_) fail(error);
    if (rsvg_handle_get_intrinsic_size_in_pixels(handle_.get(), &width_, &height_) == 0)
      fail("it has no size");
  }
  [[nodiscard]] double width() const { return width_; }
  [[nodiscard]] double height() const { return height_; }

  void onto(cairo_t* pen, double scale) const {
    GError*             error = nullptr;
    const RsvgRectangle whole{0.0, 0.0, scale * width_, scale * height_};
    if (rsvg_handle_render_document(handle_.get(), pen, &whole, &error) == 0) fail(error);
    check(cairo_status(pen));
  }
  void check(cairo_status_t status) const {
    if (status != CAIRO_STATUS_SUCCESS) fail(cairo_status_to_string(status));
  }

 private:
  [[noreturn]] void fail(const std::string& what) const {
    throw Error(Exit::data,
                {.code = code_, .what = fmt::format("the picture cannot be made into {}: {}", into_, what)});
  }
  [[noreturn]] void fail(GError* error) const {
    const std::string text = error != nullptr ? error->message : "unknown cause";
    g_clear_error(&error);
    fail(text);
  }

  const char *                                           code_, *into_;
  std::unique_ptr<RsvgHandle, decltype(&g_object_unref)> handle_{nullptr, &g_object_unref};
  double                                                 width_ = 0.0, height_ = 0.0;
};

using Surface = std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)>;
using Pen     = std::unique_ptr<cairo_t, decltype(&cairo_destroy)>;

cairo_status_t add_bytes(void* into, const unsigned char* bytes, unsigned int count) {
  static_cast<std::string*>(into)->append(reinterpret_cast<const char*>(bytes), count);
  return CAIRO_STATUS_SUCCESS;
}

}  // namespace

std::string png_of(const std::string& svg_file, double dots) {
  const Drawing drawing(svg_file, "no-png", "PNG");
  const Surface surface(
      cairo_image_surface_create(CAIRO_FORMAT_ARGB32, static_cast<int>(std::ceil(dots * drawing.width())),
                                 static_cast<int>(std::ceil(dots * drawing.height()))),
      &cairo_surface_destroy);
  const Pen pen(cairo_create(surface.get()), &cairo_destroy);
  drawing.onto(pen.get(), dots);
  std::string out;
  drawing.check(cairo_surface_write_to_png_stream(surface.get(), &add_bytes, &out));
  return out;
}

std::string pdf_of(const std::vector<PaperPage>& pages, const std::string& title) {
  constexpr double points = 72.0 / 96.0;  // to a pixel
  std::string      out;
  {
    const Surface surface(cairo_pdf_surface_create_for_stream(&add_bytes, &out, 1.0, 1.0),
                          &cairo_surface_destroy);
    cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_TITLE, title.c_str());
    cairo_pdf_surface_set_metadata(surface.get(), CAIRO_PDF_METADATA_CREATOR, "arris");
    const Pen pen(cairo_create(surface.get()), &cairo_destroy);
    int       number = 0;
    for (const PaperPage& page : pages) {
      stop_if_wished();
      const Drawing drawing(page.svg, "no-pdf", "PDF");
      cairo_pdf_surface_set_size(surface.get(), points * drawing.width(), points * drawing.height());
      drawing.onto(pen.get(), points);
      cairo_show_page(pen.get());
      ++number;
      if (!page.heading.empty())
        cairo_pdf_surface_add_outline(surface.get(), CAIRO_PDF_OUTLINE_ROOT, page.heading.c_str(),
                                      fmt::format("page={}", number).c_str(), CAIRO_PDF_OUTLINE_FLAG_OPEN);
    }
    cairo_surface_finish(surface.get());
    if (const auto status = cairo_surface_status(surface.get()); status != CAIRO_STATUS_SUCCESS)
      throw Error(Exit::data, Diagnostic{.code = "no-pdf", .what = cairo_status_to_string(status)});
  }
  return out;
}

#else

std::string png_of(const std::string& /*svg_file*/, double /*dots*/) {
  throw Error(Exit::usage, {.code  = "no-png",
                            .what  = "this program makes no PNG",
                            .cause = "It was built without librsvg (ARRIS_PNG=OFF).",
                            .next  = "Write the picture as SVG: give --out a name that ends in .svg."});
}

std::string pdf_of(const std::vector<PaperPage>& /*pages*/, const std::string& /*title*/) {
  throw Error(Exit::usage, {.code  = "no-pdf",
                            .what  = "this program makes no PDF",
                            .cause = "It was built without librsvg (ARRIS_PNG=OFF).",
                            .next  = "Write the page as HTML and print it, or the picture as SVG."});
}

#endif

}  // namespace arris::report
