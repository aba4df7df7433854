#version 330 core
// The largest movement in each tile of each view, or around it, and how much others differ from it: view above view.
uniform int tiles_up;
#ifdef AROUND
uniform sampler2D furthest;
#else
uniform sampler2DArray moved;
uniform ivec4 window;                  // tiles outside are of no interest: left, bottom, right, top
#endif
out vec4 most;
void main() {
    ivec2 place = ivec2(gl_FragCoord.xy);
    int view = place.y / tiles_up, row = place.y % tiles_up;
    vec2 far = vec2(0.0);
    float differs = 0.0;
#ifdef AROUND
    ivec2 low = max(ivec2(place.x, row) - 1, ivec2(0));
    ivec2 high = min(ivec2(place.x, row) + 1, ivec2(textureSize(furthest, 0).x, tiles_up) - 1);
    for (int up = low.y; up <= high.y; up++)
        for (int across = low.x; across <= high.x; across++) {
            vec2 here = texelFetch(furthest, ivec2(across, up + view * tiles_up), 0).xy;
            if (dot(here, here) > dot(far, far)) far = here;
        }
    for (int up = low.y; up <= high.y; up++)
        for (int across = low.x; across <= high.x; across++) {
            vec4 here = texelFetch(furthest, ivec2(across, up + view * tiles_up), 0);
            differs = max(differs, here.z + distance(here.xy, far));
        }
#else
    most = vec4(0.0);
    if (any(lessThan(ivec2(place.x, row), window.xy)) || any(greaterThanEqual(ivec2(place.x, row), window.zw))) return;
    ivec2 end = min((ivec2(place.x, row) + 1) * TILE, textureSize(moved, 0).xy);
    vec2 low = vec2(1e4), high = vec2(-1e4);
    // A quarter of the pixels, two in each row and in each column: no line is missed.
    for (int y = row * TILE; y < end.y; y++)
        for (int x = place.x * TILE + 3 * y % 4; x < end.x; x += 4) {
            vec2 here = texelFetch(moved, ivec3(x, y, view), 0).xy;
            low = min(low, here);
            high = max(high, here);
            if (dot(here, here) > dot(far, far)) far = here;
        }
    differs = distance(low, high);
#endif
    most = vec4(far, differs, 0.0);
}
