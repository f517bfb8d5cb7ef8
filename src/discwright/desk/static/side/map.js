/**
 * The disc map: OpenSeadragon over the tiles that the server draws. Places are micrometres from the disc's centre, x to
 * the right and y down; a view is its centre and its width.
 */

import { still } from "./link.js";

/** Tiles asked for at once; the other connections stay free for the pointer and for sound. */
const TILES_AT_ONCE = 4;
/** Screen pixels that the finest pixel of the map may be drawn as. */
const MOST_ENLARGED = 16;
/** The same while only the coarse picture is there. */
const COARSE_ENLARGED = 2;
/** Air round the whole disc. */
const AIR = 1.06;
/** Jumps that would zoom further than this are made at once: a flight would draw every level on its way. */
const FLIGHT = 12;

/** Events: `moved` at every drawn frame, `rest` when the view stands still, `click` with a place, `ready`, `failed`. */
export class DiscMap extends EventTarget {
  /**
   * @param {HTMLElement} element
   * @param {string} plan
   * @param {object} facts  What `/map` answered.
   * @param {string} layer
   */
  constructor(element, plan, facts, layer) {
    super();
    this.element = element;
    this.plan = plan;
    this.facts = facts;
    this.layer = layer;
    this.span_um = facts.width_px * facts.finest_um;
    this.viewer = this.#open();
    this.picture = this.viewer.viewport;
    this.viewer.addOnceHandler("open", () => {
      this.element.dataset.drawer = this.viewer.drawer.getType();
      // Another shading of the same ground keeps the view.
      this.viewer.preserveViewport = true;
      this.#exactTiles();
      this.#limit();
      this.whole(true);
      this.dispatchEvent(new Event("ready"));
    });
    this.#follow();
  }

  #open() {
    const viewer = window.OpenSeadragon({
      element: this.element,
      drawer: accelerated() ? ["webgl", "canvas"] : ["canvas"],
      tileSources: this.#source(),
      tabIndex: -1,
      keyboardNavEnabled: false,
      showNavigationControl: false,
      imageLoaderLimit: TILES_AT_ONCE,
      animationTime: still() ? 0 : 0.5,
      blendTime: 0,
      visibilityRatio: 0.05,
      zoomPerScroll: 1.35,
      zoomPerClick: 1,
      subPixelRoundingForTransparency: window.OpenSeadragon.SUBPIXEL_ROUNDING_OCCURRENCES.ALWAYS,
      maxImageCacheCount: 400,
      timeout: 60000,
      gestureSettingsMouse: { clickToZoom: false, dblClickToZoom: false, flickEnabled: false },
      gestureSettingsTouch: { clickToZoom: false, dblClickToZoom: false, flickEnabled: !still() },
      gestureSettingsPen: { clickToZoom: false, dblClickToZoom: false },
    });
    // The viewer's own focus element would be a second, nameless stop.
    viewer.canvas.removeAttribute("tabindex");
    return viewer;
  }

  /** The pyramid as far as it can be drawn now; its coarse part is a pyramid of its own over the same ground. */
  #source() {
    const finest = this.finestLevel;
    const size = 2 ** finest;
    const { plan, layer } = this;
    return {
      width: size,
      height: size,
      tileSize: this.facts.tile_px,
      tileOverlap: 0,
      minLevel: Math.min(8, finest),
      maxLevel: finest,
      // Tiles of this kind are put on whole pixels, which is wanted of all of them here.
      hasTransparency: () => true,
      getTileUrl: (level, column, row) => `/api/plans/${plan}/tiles/${layer}/${level}/${column}/${row}.png`,
    };
  }

  /** The finest level that can be drawn now. */
  get finestLevel() {
    return this.facts.prepared ? this.facts.levels : Math.max(0, this.facts.deep_level - 1);
  }

  /** Width of the finest pixel that can be drawn now. */
  get finest_um() {
    return this.facts.finest_um * 2 ** (this.facts.levels - this.finestLevel);
  }

  #follow() {
    const moved = () => {
      this.#sharpen();
      this.dispatchEvent(new Event("moved"));
    };
    this.viewer.addHandler("update-viewport", moved);
    this.viewer.addHandler("resize", () => {
      this.#limit();
      requestAnimationFrame(moved);
    });
    this.viewer.addHandler("animation-finish", () => this.dispatchEvent(new Event("rest")));
    this.viewer.addHandler("tile-load-failed", () => this.dispatchEvent(new Event("failed")));
    this.viewer.addHandler("canvas-click", (event) => {
      if (!event.quick) return;
      const place = this.placeAt(event.position.x, event.position.y);
      this.dispatchEvent(new CustomEvent("click", { detail: place }));
    });
  }

  /**
   * The canvas drawer stretches every tile by a pixel against seams. Where the pixels of the map are whole pixels of the
   * screen there are no seams, and a stretched tile would put the groove up to a pixel beside its place.
   */
  #exactTiles() {
    const { drawer } = this.viewer;
    const usual = drawer.minimumOverlapRequired.bind(drawer);
    drawer.minimumOverlapRequired = (item) => {
      const enlarged = this.finest_um / (this.scale_um / devicePixelRatio);
      const whole = enlarged > 0.9 && Math.abs(enlarged - Math.round(enlarged)) < 1e-6;
      return !whole && usual(item);
    };
  }

  /** Past one to one a pixel is a square: what stands there is what was reckoned, not a blur of it. */
  #sharpen() {
    const smooth = this.scale_um * devicePixelRatio > this.finest_um;
    if (smooth === this.smooth) return;
    this.smooth = smooth;
    this.viewer.drawer.setImageSmoothingEnabled(smooth);
    this.element.dataset.smooth = smooth ? "yes" : "no";
  }

  #limit() {
    const width = this.width_px;
    const least_um = this.finest_um / (this.facts.prepared ? MOST_ENLARGED : COARSE_ENLARGED);
    this.picture.maxZoomLevel = this.span_um / (least_um * width);
    this.picture.minZoomLevel = this.span_um / (1.6 * this.#wholeWide());
  }

  /** The groove can be drawn now: the deep levels open up where the view stands. */
  prepare(facts) {
    this.facts = facts;
    this.#replace();
    this.#limit();
  }

  /**
   * Shade by another property.
   * @param {string} layer
   */
  shade(layer) {
    if (layer === this.layer) return;
    this.layer = layer;
    this.#replace();
  }

  #replace() {
    this.viewer.addTiledImage({
      tileSource: this.#source(),
      index: 0,
      replace: this.viewer.world.getItemCount() > 0,
      success: () => {
        this.smooth = undefined;
        this.#sharpen();
      },
    });
  }

  /** Size of the picture on the screen, CSS px. */
  get width_px() {
    return this.element.clientWidth || 1;
  }

  get height_px() {
    return this.element.clientHeight || 1;
  }

  /** Micrometres per CSS pixel as drawn now. */
  get scale_um() {
    return this.span_um / (this.picture.getZoom(true) * this.width_px);
  }

  /** The view as it is drawn now (`true`) or as it will be when it rests. */
  view(drawn = false) {
    const centre = this.picture.getCenter(drawn);
    const wide_um = this.span_um / this.picture.getZoom(drawn);
    return {
      x_um: (centre.x - 0.5) * this.span_um,
      y_um: (centre.y - 0.5) * this.span_um,
      wide_um,
      high_um: (wide_um * this.height_px) / this.width_px,
    };
  }

  /** Place under a point of the picture, CSS px from its upper left corner. */
  placeAt(x_px, y_px) {
    const { x_um, y_um } = this.view(true);
    const scale = this.scale_um;
    return {
      x_um: x_um + (x_px - this.width_px / 2) * scale,
      y_um: y_um + (y_px - this.height_px / 2) * scale,
    };
  }

  /** Where a place is drawn now, CSS px from the upper left corner of the picture. */
  pointOf(x_um, y_um) {
    const view = this.view(true);
    const scale = this.scale_um;
    return {
      x: (x_um - view.x_um) / scale + this.width_px / 2,
      y: (y_um - view.y_um) / scale + this.height_px / 2,
    };
  }

  /** Whether a place is drawn, with some air round it. */
  shows(x_um, y_um, air_px = 24) {
    const { x, y } = this.pointOf(x_um, y_um);
    return x > air_px && y > air_px && x < this.width_px - air_px && y < this.height_px - air_px;
  }

  /** Show a place, with so much round it (or as much as now). */
  go(x_um, y_um, wide_um, atOnce = false) {
    const zoom = wide_um ? this.span_um / wide_um : this.picture.getZoom();
    const kept = Math.min(Math.max(zoom, this.picture.minZoomLevel), this.picture.maxZoomLevel);
    const ratio = kept / this.picture.getZoom(true);
    const jump = atOnce || still() || ratio > FLIGHT || ratio < 1 / FLIGHT;
    const centre = new window.OpenSeadragon.Point(x_um / this.span_um + 0.5, y_um / this.span_um + 0.5);
    this.picture.panTo(centre, jump);
    this.picture.zoomTo(kept, null, jump);
    if (jump) this.#settled();
  }

  /** Zoom about the centre. */
  zoom(factor) {
    this.picture.zoomBy(factor, null, still());
    this.picture.applyConstraints(still());
    if (still()) this.#settled();
  }

  /** Move by parts of the picture's width and height. */
  pan(right, down) {
    const wide = 1 / this.picture.getZoom();
    const by = new window.OpenSeadragon.Point(right * wide, (down * wide * this.height_px) / this.width_px);
    this.picture.panBy(by, still());
    this.picture.applyConstraints(still());
    if (still()) this.#settled();
  }

  #wholeWide() {
    const across = 2 * AIR * this.facts.rim_um;
    return Math.max(across, (across * this.width_px) / this.height_px);
  }

  /** Show the whole disc. */
  whole(atOnce = false) {
    this.go(0, 0, this.#wholeWide(), atOnce);
  }

  /** A view that was set without a flight has no end of its own to tell of. */
  #settled() {
    requestAnimationFrame(() => this.dispatchEvent(new Event("rest")));
  }
}

/** Whether this computer has hardware for WebGL: where that is imitated by software, the plain canvas is the quicker. */
function accelerated() {
  const context = document.createElement("canvas").getContext("webgl", { failIfMajorPerformanceCaveat: true });
  if (!context) return false;
  const told = context.getExtension("WEBGL_debug_renderer_info");
  const renderer = String(context.getParameter(told?.UNMASKED_RENDERER_WEBGL ?? context.RENDERER));
  context.getExtension("WEBGL_lose_context")?.loseContext();
  return !/swiftshader|llvmpipe|softpipe|software|basic render/i.test(renderer);
}
