// SPDX-License-Identifier: MIT
#include "sim/report/picture.hpp"

#include "sim/diagnostic.hpp"

#ifdef ARRIS_WITH_PNG
#include <cmath>
#include <memory>

#include <cairo.h>
#include <librsvg/rsvg.h>
#endif

namespace arris::report {

#ifdef ARRIS_WITH_PNG

std::string png_of(const std::string& svg_file, double dots) {
  const auto fail = [](const std::string& what) {
    throw Error(Exit::data, {.code = "no-png", .what = "the picture cannot be made into PNG: " + what});
  };
  GError*                                                      error = nullptr;
  const std::unique_ptr<RsvgHandle, decltype(&g_object_unref)> handle(
      rsvg_handle_new_from_data(reinterpret_cast<const guint8*>(svg_file.data()), svg_file.size(), &error),
      &g_object_unref);
  const auto message = [&error] {
    std::string text = error != nullptr ? error->message : "unknown cause";
    g_clear_error(&error);
    return text;
  };
  if (!handle) fail(message());
  double width = 0.0, height = 0.0;
  if (rsvg_handle_get_intrinsic_size_in_pixels(handle.get(), &width, &height) == 0) fail("it has no size");

  const std::unique_ptr<cairo_surface_t, decltype(&cairo_surface_destroy)> surface(
      cairo_image_surface_create(CAIRO_FORMAT_ARGB32, static_cast<int>(std::ceil(dots * width)),
                                 static_cast<int>(std::ceil(dots * height))),
      &cairo_surface_destroy);
  const std::unique_ptr<cairo_t, decltype(&cairo_destroy)> pen(cairo_create(surface.get()), &cairo_destroy);
  const RsvgRectangle                                      whole{0.0, 0.0, dots * width, dots * height};
  if (rsvg_handle_render_document(handle.get(), pen.get(), &whole, &error) == 0) fail(message());
  if (const auto status = cairo_status(pen.get()); status != CAIRO_STATUS_SUCCESS)
    fail(cairo_status_to_string(status));

  std::string out;
  const auto  add = [](void* into, const unsigned char* bytes, unsigned int count) {
    static_cast<std::string*>(into)->append(reinterpret_cast<const char*>(bytes), count);
    return CAIRO_STATUS_SUCCESS;
  };
  if (const auto status = cairo_surface_write_to_png_stream(surface.get(), add, &out);
      status != CAIRO_STATUS_SUCCESS)
    fail(cairo_status_to_string(status));
  return out;
}

#else

std::string png_of(const std::string& /*svg_file*/, double /*dots*/) {
  throw Error(Exit::usage, {.code  = "no-png",
                            .what  = "this program makes no PNG",
                            .cause = "It was built without librsvg (ARRIS_PNG=OFF).",
                            .next  = "Write the picture as SVG: give --out a name that ends in .svg."});
}

#endif

}  // namespace arris::report
