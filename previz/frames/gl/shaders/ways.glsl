// How far things move around each tile of a view, of what `furthest` holds in COLUMNS: the most, and how much others differ.
vec3 way_of(ivec2 tile, int view) {
    return texelFetch(furthest, ivec2(view % COLUMNS, view / COLUMNS) * TILES + tile, 0).xyz;
}

// Steps along a way, a pixel each along the picture's rows or columns; one where it is no longer than a pixel.
float steps_of(vec2 way) {
    float far = max(abs(way.x), abs(way.y));
    return far <= 1.0 ? 1.0 : far;
}

// To either side of the middle.
int last_of(float steps) { return int(ceil(0.5 * steps - 0.5)); }

float slack_of(vec2 way) { return 0.5 + 0.1 * length(way); }

// Whether all go the same way.
bool all_alike(vec3 way) { return way.z < slack_of(way.xy); }
