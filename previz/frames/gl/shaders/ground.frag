#version 330 core
in vec2 image_uv;
in vec2 patch_uv;
uniform sampler2D image;
uniform sampler2D light;               // irradiance [lx]
uniform sampler2DArray shadow;         // irradiance with the vehicle over irradiance without it
#ifdef BEAM
uniform sampler2DArray beam;           // irradiance from the vehicle's own lamps [lx]
#endif
uniform float station;
uniform vec3 exposure;
out vec4 seen;
void main() {
    vec3 irradiance = texture(light, image_uv).rgb;
    if (all(greaterThan(patch_uv, vec2(0.0))) && all(lessThan(patch_uv, vec2(1.0)))) {
        float before = floor(station);
        vec3 share = mix(texture(shadow, vec3(patch_uv, before)).rgb,
                         texture(shadow, vec3(patch_uv, before + 1.0)).rgb, station - before);
        irradiance *= share;
#ifdef BEAM
        irradiance += mix(texture(beam, vec3(patch_uv, before)).rgb,
                          texture(beam, vec3(patch_uv, before + 1.0)).rgb, station - before);
#endif
    }
    vec3 light_out = texture(image, image_uv).rgb * irradiance * 0.31830988618;
    seen = vec4(min(light_out * exposure, vec3(60000.0)), 1.0);
}
