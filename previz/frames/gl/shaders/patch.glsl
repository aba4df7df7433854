#ifdef PATCH
// Where in the picture of the vehicle's shadow, which lies level below it, a place is.
uniform vec4 patch_place;              // x0, y1, 1/width, 1/depth
out vec2 patch_uv;
void set_patch(vec3 place) {
    vec2 local = (VIEW(ground_from_world) * vec4(place, 1.0)).xy;
    patch_uv = vec2(local.x - patch_place.x, patch_place.y - local.y) * patch_place.zw;
}
#endif
